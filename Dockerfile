# Two images from one file: `api` (no geometry kernel in it) and `worker`.
#   docker build --target api -t reclamp-api .       docker build --target worker -t reclamp-worker .
# BASE may be any Debian-like image with Python 3.11 or later and its venv module.
ARG BASE=python:3.11-slim

FROM ${BASE} AS build
ENV PIP_NO_CACHE_DIR=1 PIP_DISABLE_PIP_VERSION_CHECK=1 PYTHONDONTWRITEBYTECODE=1
WORKDIR /src
RUN python3 -m venv /opt/reclamp
COPY pyproject.toml requirements.lock README.md ./
COPY schemas ./schemas
COPY service ./service
COPY worker ./worker
RUN /opt/reclamp/bin/pip install --quiet --constraint requirements.lock ".[service]"

FROM build AS build-api
RUN /opt/reclamp/bin/pip check && /opt/reclamp/bin/pip uninstall --quiet --yes setuptools pip

FROM build AS build-worker
RUN /opt/reclamp/bin/pip install --quiet --constraint requirements.lock ".[service,worker]" \
 && /opt/reclamp/bin/pip check && /opt/reclamp/bin/pip uninstall --quiet --yes setuptools pip

# The kernel's wheel is linked against the windows system and never opens it: its bare libraries, without the drivers
# (300 MB) that their packages would bring along.
FROM ${BASE} AS libraries
RUN apt-get update && cd /tmp \
 && apt-get download libgl1 libglx0 libglvnd0 libx11-6 libxcb1 libxau6 libxdmcp6 libbsd0 libmd0 libexpat1 \
 && for file in *.deb; do dpkg-deb --extract "$file" /taken; done \
 && mkdir /libraries && find /taken -name "*.so.*" -exec cp --no-dereference {} /libraries/ ";"

FROM ${BASE} AS runtime
RUN groupadd --gid 10001 reclamp && useradd --uid 10001 --gid reclamp --home-dir /nonexistent --shell /usr/sbin/nologin reclamp \
 && install -d -o reclamp -g reclamp -m 700 /data
ENV PATH=/opt/reclamp/bin:$PATH PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 RECLAMP_DATA=/data
WORKDIR /data
STOPSIGNAL SIGTERM

FROM runtime AS api
COPY --from=build-api /opt/reclamp /opt/reclamp
USER 10001:10001
EXPOSE 8000
HEALTHCHECK --interval=10s --timeout=3s --start-period=20s --retries=3 \
  CMD ["python3", "-m", "service.alive"]
ENTRYPOINT ["reclamp"]
CMD ["serve", "--only", "api", "--host", "0.0.0.0"]

FROM runtime AS worker
COPY --from=libraries /libraries /opt/libraries
COPY --from=build-worker /opt/reclamp /opt/reclamp
ENV LD_LIBRARY_PATH=/opt/libraries
# an image that cannot load the kernel is never made
RUN python3 -c "import worker.pipeline"
USER 10001:10001
HEALTHCHECK --interval=15s --timeout=5s --start-period=30s --retries=3 CMD ["python3", "-m", "service.work.alive"]
ENTRYPOINT ["reclamp"]
CMD ["serve", "--only", "worker"]
