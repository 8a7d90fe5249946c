"""Facts about cut stages that several rules and the report share, computed once: standing metal, who finishes what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from worker.part import Part
from worker.residual import Lump, covered_features, standing
from worker.stage.model import Stage

RAW = "rawpiece"
"""``finished_in`` of a feature whose faces are those of the blank."""


@dataclass(frozen=True)
class Finish:
    """What stands on the part after each setup, and where each feature is finished.

    ``at_start`` is the metal on the part in the first as-is stock, ``after`` one entry a setup, in order.
    ``finished_in`` maps a feature's id to the setup that takes the last metal off it (or "rawpiece"); features
    with metal left on them at the end are absent.
    """

    at_start: tuple[Lump, ...]
    after: tuple[tuple[Lump, ...], ...]
    finished_in: Mapping[str, str]

    @property
    def residual(self) -> tuple[Lump, ...]:
        """What is left on the part after the last setup."""
        return self.after[-1]


def finish_of(part: Part, stages: Sequence[Stage]) -> Finish:
    """Standing metal after every stage. Raises KernelError when a boolean fails."""
    at_start = standing(part, stages[0].as_is)
    after = tuple(standing(part, stage.to_be) for stage in stages)
    return Finish(at_start, after, _finished_in(part, stages, at_start, after))


def _finished_in(
    part: Part, stages: Sequence[Stage], at_start: tuple[Lump, ...], after: tuple[tuple[Lump, ...], ...]
) -> dict[str, str]:
    """The first state from which on nothing stands on the feature any more."""
    states = [(RAW, covered_features(at_start))]
    states += [(stage.setup.id, covered_features(lumps)) for stage, lumps in zip(stages, after, strict=True)]
    found: dict[str, str] = {}
    for feature in part.features:
        clean_from = len(states)
        while clean_from > 0 and feature.id not in states[clean_from - 1][1]:
            clean_from -= 1
        if clean_from < len(states):
            found[feature.id] = states[clean_from][0]
    return found
