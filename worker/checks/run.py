"""Running the rules over a context: drafts become findings, skips are recorded, a crash is a finding of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from schemas.finding import CATALOGUE, Finding, Level, Place, Remedy
from schemas.report import RuleRun
from worker.checks.api import Context, Draft, Missing, Rule, Skip
from worker.checks.merge import merged
from worker.checks.metal_needs import hindrance
from worker.checks.policy import Resolved, resolve_policy
from worker.checks.registry import all_rules
from worker.stage.model import Cut, Stage

WHOLE_PLAN = "plan"
"""Where a rule of scope "plan" ran."""
SIMPLIFY = (
    "Simplify the geometry there: faces that nearly touch or nearly coincide, sizes a hair apart, free-form faces."
)
"""What helps where the kernel fails."""
_GRAVITY: dict[Level, int] = {"note": 0, "warning": 1, "error": 2}


@dataclass(frozen=True)
class _Spot:
    """One place where a rule is called: the plan, a stage or a step."""

    stage: Stage | None
    cut: Cut | None

    @property
    def name(self) -> str:
        parts = [self.stage.setup.id] if self.stage else [WHOLE_PLAN]
        return "/".join([*parts, self.cut.step.id] if self.cut else parts)


@dataclass
class _Run:
    """What one rule did, while it is being collected."""

    rule: Rule
    drafts: list[Draft]
    ran: list[str]
    skipped: dict[str, str]
    failed: list[Draft]


def run_checks(
    context: Context, rules: tuple[Rule, ...] | None = None
) -> tuple[tuple[Finding, ...], tuple[RuleRun, ...]]:
    """All findings in the order of machining, and where each rule ran or was skipped.

    Raises Problem ``plan.invalid`` for a policy that names what nobody has.
    """
    chosen = all_rules() if rules is None else rules
    policy = resolve_policy(context.plan, chosen)
    context = replace(context, limits=policy.limits)
    runs = [_run_rule(context, one, policy) for one in chosen]
    findings = [f for run in runs for f in _findings(run, policy)]
    findings += [_missing(one) for one in context.missing]
    told = _without_consequences(context, findings, chosen)
    ordered = tuple(sorted(told, key=lambda f: _order(context, f)))
    return ordered, tuple(_record(run, ordered) for run in runs)


def _run_rule(context: Context, one: Rule, policy: Resolved) -> _Run:
    run = _Run(one, [], [], {}, [])
    if one.code in policy.off:
        run.skipped["*"] = "switched off by the plan's policy"
        return run
    for spot in _spots(context, one):
        _call(context, run, spot)
    return run


def _spots(context: Context, one: Rule) -> Iterator[_Spot]:
    if one.scope == "plan":
        yield _Spot(None, None)
    for stage in context.stages if one.scope != "plan" else ():
        if one.scope == "stage":
            yield _Spot(stage, None)
            continue
        for cut in stage.cuts:
            yield _Spot(stage, cut)


def _call(context: Context, run: _Run, spot: _Spot) -> None:
    arguments = [a for a in (spot.stage, spot.cut) if a is not None]
    if reason := _hindered(context, run.rule, spot):
        run.skipped[spot.name] = reason
        return
    try:
        results = list(run.rule.check(context, *arguments))
    except Exception as error:  # a crash anywhere in a rule must be told, never swallowed and never fatal
        run.failed.append(_crash(run.rule, spot, error))
        return
    skips = [r for r in results if isinstance(r, Skip)]
    drafts = [r for r in results if isinstance(r, Draft)]
    if skips and not drafts:
        run.skipped[spot.name] = skips[0].reason
    else:
        run.ran.append(spot.name)
    run.drafts += [replace(d, stage=d.stage or spot.stage, cut=d.cut or spot.cut) for d in drafts]


def _hindered(context: Context, one: Rule, spot: _Spot) -> str:
    """Why the rule cannot judge this place; "" when it can."""
    place = (spot.stage.setup.id if spot.stage else None, spot.cut.step.id if spot.cut else None)
    for fact in context.missing:
        if one.code in fact.rules and all(
            a is None or a == b for a, b in zip((fact.setup, fact.workingstep), place, strict=True)
        ):
            return f"not judged: {fact.what} could not be computed"
    return hindrance(context.stages, spot.stage, spot.cut, one.metal, one.facets)


def _missing(fact: Missing) -> Finding:
    return Finding(
        code="rule.failed",
        level="error",
        setup=fact.setup,
        workingstep=fact.workingstep,
        message=f"{fact.what[0].upper()}{fact.what[1:]} could not be computed ({fact.detail}): "
        f"{', '.join(fact.rules)} prove nothing here.",
        remedy=Remedy(text=SIMPLIFY),
    )


def _crash(one: Rule, spot: _Spot, error: Exception) -> Draft:
    words = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
    message = f"The rule {one.code} could not be evaluated on {spot.name} ({words}); it proves nothing here."
    return Draft(message=message, stage=spot.stage, cut=spot.cut)


def _findings(run: _Run, policy: Resolved) -> Iterator[Finding]:
    for draft in merged(run.drafts):
        level = policy.levels.get(run.rule.code) or draft.level or run.rule.level
        yield _finding(run.rule.code, level, draft)
    for draft in run.failed:
        yield _finding("rule.failed", "error", draft)


def _finding(code: str, level: Level, draft: Draft) -> Finding:
    stage = draft.stage
    place = None
    if draft.at is not None:
        place = Place(part=draft.at, setup=stage.frame.to_local(draft.at) if stage else None)
    return Finding(
        code=code,
        level=level,
        setup=stage.setup.id if stage else None,
        workingstep=draft.cut.step.id if draft.cut else None,
        features=draft.features,
        message=draft.message,
        measured=draft.measured,
        limit=draft.limit,
        unit=draft.unit,
        at=place,
        remedy=draft.remedy,
    )


def _without_consequences(context: Context, findings: list[Finding], rules: tuple[Rule, ...]) -> list[Finding]:
    """Leave out what another finding of the same place already explains (``Rule.because_of``)."""
    causes = {one.code: one.because_of for one in rules}
    return [f for f in findings if not any(_explains(g, f, causes.get(f.code, ())) for g in findings)]


def _explains(cause: Finding, effect: Finding, because_of: tuple[str, ...]) -> bool:
    if cause.code not in because_of or cause.setup != effect.setup:
        return False
    if _GRAVITY[cause.level] < _GRAVITY[effect.level]:  # a milder cause must never hide a graver effect
        return False
    if effect.workingstep is not None and cause.workingstep is not None:
        return cause.workingstep == effect.workingstep
    return True


def _order(context: Context, finding: Finding) -> tuple[object, ...]:
    setups = [s.id for s in context.plan.setups]
    setup = setups.index(finding.setup) if finding.setup in setups else len(setups)
    steps = [w.id for w in context.plan.setups[setup].workingsteps] if setup < len(setups) else []
    step = steps.index(finding.workingstep) if finding.workingstep in steps else -1
    codes = list(CATALOGUE)
    code = codes.index(finding.code) if finding.code in codes else len(codes)
    return (setup, step, code, finding.code, finding.features, finding.message)


def _record(run: _Run, told: tuple[Finding, ...]) -> RuleRun:
    count = sum(f.code == run.rule.code for f in told)
    return RuleRun(code=run.rule.code, findings=count, ran=tuple(run.ran), skipped=dict(run.skipped))
