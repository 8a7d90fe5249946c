"""All that a check may load, for a server that children are forked from: importing is safe, geometry is not."""

from __future__ import annotations

import contextlib

import worker.cache.code
import worker.entry
import worker.extras
import worker.pipeline
import worker.present.model_file
import worker.present.page
import worker.present.picture
import worker.present.sheet  # noqa: F401
from worker.checks.registry import all_rules

with contextlib.suppress(Exception):  # a rule that cannot be loaded is told by the check that needs it
    all_rules()
