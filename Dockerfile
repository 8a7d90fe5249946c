# Two images from one file: `api` (no geometry kernel in it) and `worker`.
#   docker build --target api -t reclamp-api .       docker build --target worker -t reclamp-worker .
# BASE may be any Debian-like image with Python 3.11 or later and its venv module.
ARG BASE=docker.io/library/python:3.11-slim

FROM ${BASE} AS build
ENV PIP_NO_CACHE_DIR=1 PIP_DISABLE_PIP_VERSION_CHECK=1 PYTHONDONTWRITEBYTECODE=1
WORKDIR /src
RUN python3 -m venv /opt/reclamp
COPY pyproject.toml requirements.lock README.md ./
COPY schemas ./schemas
COPY service ./service
COPY worker ./worker
RUN /opt/reclamp/bin/pip install --quiet --constraint requirements.lock ".[service]"

FROM build AS build-worker
RUN /opt/reclamp/bin/pip install --quiet --constraint requirements.lock ".[service,worker]"

FROM ${BASE} AS runtime
RUN groupadd --gid 10001 reclamp && useradd --uid 10001 --gid reclamp --home-dir /nonexistent --shell /usr/sbin/nologin reclamp \
 && install -d -o reclamp -g reclamp -m 700 /data
ENV PATH=/opt/reclamp/bin:$PATH PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 RECLAMP_DATA=/data
WORKDIR /data
STOPSIGNAL SIGTERM

FROM runtime AS api
COPY --from=build /opt/reclamp /opt/reclamp
USER 10001:10001
EXPOSE 8000
HEALTHCHECK --interval=10s --timeout=3s --start-period=20s --retries=3 \
  CMD ["python3", "-m", "service.alive"]
ENTRYPOINT ["reclamp"]
CMD ["serve", "--only", "api", "--host", "0.0.0.0"]

FROM runtime AS worker
# libraries that the kernel's wheel expects on the system
RUN apt-get update && apt-get install -y --no-install-recommends libgl1 libx11-6 libexpat1 && rm -rf /var/lib/apt/lists/*
COPY --from=build-worker /opt/reclamp /opt/reclamp
USER 10001:10001
HEALTHCHECK --interval=15s --timeout=5s --start-period=30s --retries=3 CMD ["python3", "-m", "worker.alive"]
ENTRYPOINT ["reclamp"]
CMD ["serve", "--only", "worker"]
