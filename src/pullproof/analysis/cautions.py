"""What is said wherever a run is planned, started or reported."""

__all__ = ["CAUTIONS"]

CAUTIONS = (
    "Full-load pulls belong on a closed course or a dynamometer, never on a public road.",
    "The driver drives; a second person minds the screen and calls the stop.",
    "Lift at once on knock, a lean mixture, or a temperature or pressure out of its range.",
    "Charge pipes, coolers and exhaust parts hold pressure and heat: let them cool before you touch them.",
    "Pressure-test pipework behind a guard, at low pressure, with nobody in line.",
    "Rules on noise, emissions and roadworthiness differ by place; a licensed workshop has the last word.",
    "These are estimates from logged data: no figure here says that an engine is safe.",
)
"""Sentences, to be shown as they stand."""
