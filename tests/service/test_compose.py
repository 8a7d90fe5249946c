"""Dockerfile, compose file, settings and commands say the same; nothing here needs containers.

What is demanded (fixed user that is not root, no privileges, bounded memory and processes, a read-only root, a health
check, no secret in an image) is common practice for containers that face a network.
"""

from __future__ import annotations

import argparse
import importlib.util
import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from service.cli import serve
from service.settings import Settings

REPO = Path(__file__).resolve().parents[2]
COMPOSE: dict[str, Any] = yaml.safe_load((REPO / "docker-compose.yml").read_text())
DOCKERFILE = (REPO / "Dockerfile").read_text().replace("\\\n", " ")
SERVICES: dict[str, dict[str, Any]] = COMPOSE["services"]
OURS = ("api", "worker", "worker-alone")
VARIABLES = {f"RECLAMP_{name.upper()}" for name in Settings.model_fields}


def stages() -> dict[str, list[str]]:
    """The Dockerfile's instructions by the name of their stage."""
    found: dict[str, list[str]] = {}
    name = ""
    for line in DOCKERFILE.splitlines():
        if match := re.match(r"FROM (\S+) AS (\S+)", line):
            name = match[2]
            found[name] = [line]
        elif name and line.strip() and not line.startswith("#"):
            found[name].append(line.strip())
    return found


def last(stage: str, instruction: str) -> str:
    """The stage's last instruction of that kind, without its name."""
    return [line for line in stages()[stage] if line.startswith(f"{instruction} ")][-1].split(" ", 1)[1]


def installed(stage: str) -> str:
    """All that pip installs for the folder which the stage copies its packages from, parents included."""
    copied = re.search(r"--from=(\S+) /opt/reclamp", "\n".join(stages()[stage]))
    assert copied is not None
    lines, name = "", copied[1]
    while name in stages():
        lines += "\n".join(line for line in stages()[name] if "pip install" in line)
        name = stages()[name][0].split()[1]
    return lines


def target(service: str) -> str:
    return "api" if service == "api" else "worker"


@pytest.mark.parametrize("service", OURS)
def test_each_variable_of_the_compose_file_is_a_setting(service: str) -> None:
    given = set(SERVICES[service]["environment"])
    assert given and given <= VARIABLES
    assert {"RECLAMP_DATABASE_URL", "RECLAMP_BROKER_URL", "RECLAMP_STORE_URL", "RECLAMP_SECRET"} <= given


def test_each_variable_of_the_images_is_a_setting() -> None:
    assert set(re.findall(r"\bRECLAMP_[A-Z_]+", DOCKERFILE)) <= VARIABLES


def test_urls_lead_to_services_of_the_file() -> None:
    environment = SERVICES["api"]["environment"]
    for name in ("RECLAMP_DATABASE_URL", "RECLAMP_BROKER_URL"):
        host = re.search(r"(?:@|//)([a-z]+):\d+", environment[name])
        assert host is not None and host[1] in SERVICES and host[1] in SERVICES["api"]["depends_on"]


def test_all_of_ours_share_settings_and_store() -> None:
    assert len({str(SERVICES[name]["environment"]) for name in OURS}) == 1
    assert all(SERVICES[name]["volumes"] == ["artefacts:/data"] for name in OURS)
    assert SERVICES["api"]["environment"]["RECLAMP_STORE_URL"].endswith("file:///data/store}")


@pytest.mark.parametrize("stage", ["api", "worker"])
def test_images_run_as_a_fixed_user_that_is_not_root(stage: str) -> None:
    user = last(stage, "USER")
    assert re.fullmatch(r"[1-9]\d{3,}:[1-9]\d{3,}", user)
    assert f"--uid {user.split(':')[0]} " in "\n".join(stages()["runtime"])


@pytest.mark.parametrize("service", OURS)
def test_containers_are_confined(service: str) -> None:
    config = SERVICES[service]
    assert config["read_only"] is True and config["cap_drop"] == ["ALL"]
    assert "no-new-privileges:true" in config["security_opt"] and config["pids_limit"] > 0
    assert "privileged" not in config and "cap_add" not in config


@pytest.mark.parametrize("service", sorted(SERVICES))
def test_every_service_has_limit_restart_and_health_check(service: str) -> None:
    config = SERVICES[service]
    assert config["mem_limit"] and config["restart"] == "unless-stopped" and config["healthcheck"]["test"]


def test_a_job_may_use_its_memory_limit_within_the_container() -> None:
    room = re.search(r":-(\d+)g\}", SERVICES["worker"]["mem_limit"])
    assert room is not None
    assert int(room[1]) * 1024 > Settings.model_fields["memory_limit_mb"].default + 512  # 512 MB: the worker itself


@pytest.mark.parametrize("service", OURS)
def test_health_checks_are_modules_that_exist(service: str) -> None:
    interpreter, option, module = SERVICES[service]["healthcheck"]["test"].split()
    assert (interpreter, option) == ("python3", "-m") and importlib.util.find_spec(module) is not None
    assert f'"-m", "{module}"' in last(target(service), "HEALTHCHECK")


@pytest.mark.parametrize("service", OURS)
def test_commands_are_understood(service: str) -> None:
    command = SERVICES[service].get("command") or re.findall(r'"([^"]+)"', last(target(service), "CMD"))
    parser = argparse.ArgumentParser(exit_on_error=False)
    serve.add_arguments(parser)
    assert command[0] == "serve" and parser.parse_args(command[1:]).only == service


def test_the_api_image_has_no_kernel() -> None:
    assert '".[service]"' in installed("api") and "worker" not in installed("api").replace("/worker", "")
    assert '".[service,worker]"' in installed("worker")


def test_packages_are_pinned_by_the_lock() -> None:
    commands = [part for line in DOCKERFILE.splitlines() for part in line.split("&&") if "pip install" in part]
    assert len(commands) == 2 and all("--constraint requirements.lock" in command for command in commands)
    assert "requirements.lock" in "\n".join(stages()["build"])


def test_no_secret_is_in_a_file() -> None:
    text = (REPO / "docker-compose.yml").read_text()
    for name in ("POSTGRES_PASSWORD", "RECLAMP_SECRET"):
        assert re.search(rf"^\s+{name}: \$\{{{name}:\?", text, re.M)  # no default: it does not start without
    assert not re.search(r"SECRET|PASSWORD", DOCKERFILE)


def test_only_the_api_is_published_and_on_loopback() -> None:
    assert [name for name, config in SERVICES.items() if "ports" in config] == ["api"]
    assert all(port.startswith("${RECLAMP_PUBLISH:-127.0.0.1:") for port in SERVICES["api"]["ports"])


def test_volumes_are_declared() -> None:
    used = {entry.split(":")[0] for config in SERVICES.values() for entry in config["volumes"]}
    assert used == set(COMPOSE["volumes"])


def test_the_build_gets_what_it_copies_and_no_more() -> None:
    ignore = (REPO / ".dockerignore").read_text().split()
    copied = {
        name.removeprefix("./") for line in stages()["build"] if line.startswith("COPY ") for name in line.split()[1:-1]
    }
    assert ignore[0] == "*" and {entry[1:] for entry in ignore if entry.startswith("!")} == copied
    assert all((REPO / name).exists() for name in copied)
