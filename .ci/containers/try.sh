#!/bin/sh
# Builds the images, brings docker-compose.yml up with podman, checks an example through it, kills worker and broker
# under way, and takes all down again. As root on Debian:
#   apt-get install podman runc podman-compose debootstrap containernetworking-plugins iptables \
#     golang-github-containernetworking-plugin-dnsname dnsmasq-base
#   .ci/containers/try.sh        WORK=/var/tmp/reclamp-try keeps base image, wheels and log
# /etc/containers/containers.conf must say runtime = "runc" and cgroup_manager = "cgroupfs" where there is no systemd.
set -eu
cd "$(dirname "$0")/../.."
work=${WORK:-/var/tmp/reclamp-try}
port=${PORT:-8077}
mkdir -p "$work/wheels"

base=${BASE_IMAGE:-localhost/reclamp-base}
if ! podman image exists "$base"; then
  debootstrap --variant=minbase --include=python3,python3-venv,python3-pip,ca-certificates bookworm "$work/root" > "$work/log"
  tar -C "$work/root" -c . | podman import - "$base"
fi
# Wheels are fetched on this machine, with its own pip settings, and given to the build as a folder.
python=${PYTHON:-.venv/bin/python}
"$python" -m pip download -q -d "$work/wheels" -c requirements.lock hatchling ".[service,worker]"
"$python" -m pip download -q -d "$work/wheels" --no-deps "async-timeout>=4.0.3"  # Debian's Python is 3.11.2
printf '[global]\nno-index = true\nfind-links = /wheels\n' > "$work/pip.conf"
mounts="--volume $work/wheels:/wheels:ro --volume $work/pip.conf:/etc/pip.conf:ro"
for target in api worker; do
  podman build -q --format docker --target $target -t localhost/reclamp-$target --build-arg BASE=$base $mounts .
done
for target in broker database; do
  podman build -q --format docker --target $target -t localhost/reclamp-stand-$target --build-arg BASE=$base -f .ci/containers/stand-ins.Dockerfile .ci/containers
done

export BASE=$base API_IMAGE=localhost/reclamp-api WORKER_IMAGE=localhost/reclamp-worker
export BROKER_IMAGE=localhost/reclamp-stand-broker BROKER_COMMAND=redis-server
export DATABASE_IMAGE=localhost/reclamp-stand-database RECLAMP_PUBLISH=127.0.0.1:$port
export RECLAMP_SECRET=for-this-trial-only POSTGRES_PASSWORD=for-this-trial-only
compose() { podman-compose -p reclamptry "$@" >> "$work/log" 2>&1; }
down() { compose down; podman volume rm -f reclamptry_broker reclamptry_database reclamptry_artefacts > /dev/null; }
trap down EXIT
compose up -d --no-build

ready() { curl -s "localhost:$port/readyz" | grep -q '"broker":"ok","worker":"ok"'; }
tries=0
until ready; do tries=$((tries + 1)); [ $tries -lt 90 ] || { echo "not ready"; exit 1; }; sleep 1; done
key=$(podman exec reclamptry_api_1 reclamp keys create --tenant trial)
send() { curl -s -H "Authorization: Bearer $key" -F part=@examples/sensor_plate/part.step -F plan=@examples/sensor_plate/plan.json "$@" "localhost:$port/v1/checks"; }
echo "first check: $(send -H 'Prefer: wait=60' -o /dev/null -w '%{http_code} in %{time_total} s')"
for _ in 1 2 3; do send > /dev/null; done
sleep 3
podman kill -s KILL reclamptry_worker_1 reclamptry_broker_1 > /dev/null
podman start reclamptry_broker_1 reclamptry_worker_1 > /dev/null
left() { curl -s -H "Authorization: Bearer $key" "localhost:$port/v1/checks" | grep -cE '"state":"(queued|running)"' || true; }
tries=0
until [ "$(left)" = 0 ]; do tries=$((tries + 1)); [ $tries -lt 150 ] || { echo "checks were lost"; exit 1; }; sleep 2; done
echo "after kill -9 of worker and broker: $(curl -s -H "Authorization: Bearer $key" "localhost:$port/v1/checks?state=done" | grep -o '"state":"done"' | wc -l) of 4 done"
for name in broker database api worker worker-alone; do
  podman healthcheck run reclamptry_${name}_1 > /dev/null && echo "$name healthy"
done
