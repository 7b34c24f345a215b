"""One report model, shown as HTML, PDF, PNG and JSON."""
