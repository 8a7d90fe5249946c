"""Sends a part and its plan to a Reclamp service, shows the progress, prints the findings. Needs only httpx.

python examples/client.py http://127.0.0.1:8000 examples/valve_body/part.step examples/valve_body/plan.json
"""

import os
import sys
import time
from pathlib import Path

import httpx

url, part, plan = sys.argv[1:4]
headers = {"Authorization": f"Bearer {os.environ.get('RECLAMP_KEY', '')}"}
with httpx.Client(base_url=url, headers=headers, timeout=60) as client:
    files = {"part": Path(part).read_bytes(), "plan": Path(plan).read_bytes()}
    answer = client.post("/v1/checks", files=files, headers={"Prefer": "wait=2"})
    while answer.status_code == 202:  # accepted, not ended yet
        check = client.get(answer.headers["Location"]).raise_for_status().json()
        print(check["state"], check.get("progress", ""), file=sys.stderr)
        if check["state"] not in ("queued", "running"):
            answer = client.get(f"{check['links']['self']}/report")
        else:
            time.sleep(0.5)
if answer.headers["content-type"] == "application/problem+json":
    problem = answer.json()
    sys.exit(f"{problem.get('pointer', '')} {problem['detail']} {problem.get('remedy', '')}")
report = answer.json()
for finding in report["findings"]:
    print(f"{finding['level']:<8} {finding['code']:<20} {finding['message']}")
print(report["verdict"])
sys.exit(report["verdict"] != "pass")
