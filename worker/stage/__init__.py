"""One setup: its frame, the workholding placed on the as-is solid, what each step removes, and the carry."""

from worker.stage.make import make_stage
from worker.stage.model import Cut, Holding, HoldingBody, Jaws, Plunge, ResolvedStep, Stage

__all__ = ["Cut", "Holding", "HoldingBody", "Jaws", "Plunge", "ResolvedStep", "Stage", "make_stage"]
