"""The worker: from part and plan to the report, on an open-source B-rep kernel."""
