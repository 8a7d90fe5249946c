"""OpenTelemetry, when it is installed and OTEL_EXPORTER_OTLP_ENDPOINT says where to; else nothing at all."""

from __future__ import annotations

import importlib
import logging
import os

from fastapi import FastAPI

log = logging.getLogger("reclamp.telemetry")


def instrument(app: FastAPI) -> bool:
    """Trace the application's requests; True when tracing is on."""
    if not os.environ.get("OTEL_EXPORTER_OTLP_ENDPOINT"):
        return False
    try:
        trace = importlib.import_module("opentelemetry.trace")
        sdk = importlib.import_module("opentelemetry.sdk.trace")
        export = importlib.import_module("opentelemetry.sdk.trace.export")
        otlp = importlib.import_module("opentelemetry.exporter.otlp.proto.http.trace_exporter")
        fastapi = importlib.import_module("opentelemetry.instrumentation.fastapi")
    except ImportError:
        log.warning("OpenTelemetry is asked for but not installed")
        return False
    provider = sdk.TracerProvider()
    provider.add_span_processor(export.BatchSpanProcessor(otlp.OTLPSpanExporter()))
    trace.set_tracer_provider(provider)
    fastapi.FastAPIInstrumentor.instrument_app(app)
    return True
