"""The JSON of a watch."""

from pullproof.analysis.watch import Event, Limit, Place, Trend, Watch, Watched
from pullproof.report.json_values import Document, number, numbers

__all__ = ["watch_document"]


def watch_document(watch: Watch) -> Document:
    """`pullproof.watch/1`."""
    return {
        "schema": "pullproof.watch/1",
        "sentence": watch.sentence,
        "logs": list(watch.logs),
        "pulls": len(watch.pulls),
        "watched": [_watched(entry) for entry in watch.watched],
        "events": [_event(event) for event in watch.events],
        "not_watched": [
            {
                "id": entry.rule,
                "label": entry.label,
                "logs": list(entry.logs),
                "reason": entry.reason,
                "advice": entry.advice,
            }
            for entry in watch.not_watched
        ],
        "sensors": [
            {"log": doubt.log, "channel": doubt.channel, "kind": doubt.kind, "detail": doubt.detail}
            for doubt in watch.sensors
        ],
        "trends": [_trend(trend) for trend in watch.trends],
        "doubts": list(watch.doubts),
        "cautions": list(watch.cautions),
    }


def _limit(limit: Limit) -> Document:
    return {
        "key": limit.key,
        "value": number(limit.value),
        "unit": limit.unit,
        "side": limit.side,
        "origin": limit.origin,
        "from_sheet": limit.from_sheet,
    }


def _place(place: Place) -> Document:
    return {"log": place.log, "at_s": number(place.at_s), "rpm": number(place.rpm), "pull": place.pull}


def _watched(entry: Watched) -> Document:
    return {
        "id": entry.rule,
        "label": entry.label,
        "channels": list(entry.channels),
        "limit": _limit(entry.limit),
        "worst": number(entry.worst),
        "margin": number(entry.margin),
        "place": _place(entry.place),
        "logs": list(entry.logs),
        "samples": int(entry.samples),
        "sees_s": number(entry.sees_s),
        "status": entry.status,
        "doubts": list(entry.doubts),
    }


def _event(event: Event) -> Document:
    return {
        "id": event.id,
        "rule": event.rule,
        "channel": event.channel,
        "kind": event.kind,
        "limit": _limit(event.limit),
        "worst": number(event.worst),
        "beyond": number(event.beyond),
        "place": _place(event.place),
        "start_s": number(event.start_s),
        "end_s": number(event.end_s),
        "samples": int(event.samples),
        "passages": int(event.passages),
        "at_least_s": number(event.at_least_s),
        "at_most_s": number(event.at_most_s),
        "detail": event.detail,
    }


def _trend(trend: Trend) -> Document:
    return {
        "id": trend.rule,
        "unit": trend.unit,
        "days": [{"day": day, "mean": number(mean)} for day, mean in zip(trend.days, trend.day_means, strict=True)],
        "pulls": int(trend.pulls),
        "difference": number(trend.difference),
        "interval": numbers(trend.interval),
        "level": number(trend.level),
        "verdict": trend.verdict,
        "detail": trend.detail,
    }
