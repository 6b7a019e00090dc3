"""Crew plans over a folder of instances: cost, bound, time, beside the dispatch rules; re-plans."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from contractor.engine.rostering import replan_bench
from contractor.engine.rostering.check import check_plan
from contractor.engine.rostering.document import Instance
from contractor.engine.rostering.optimize import plan
from contractor.engine.rostering.plan_document import InstallPlan, plan_to_document
from contractor.engine.rostering.reading import SCHEMA, read_instance
from contractor.engine.rostering.replan_bench import ReplanRow

HEADINGS = ("file", "jobs", "crews", "cost", "bound", "gap %", "proven", "rule", "ratio", "s")

DEFAULT_SECONDS = 30.0
SEED = 1


@dataclass(frozen=True)
class Row:
    """One instance: its plan against the best of the eight dispatch rules."""

    name: str
    jobs: int
    crews: int
    cost: int
    bound: int
    gap: float
    proven: bool
    rule: str
    rule_cost: int
    seconds: float
    violations: int

    @property
    def ratio(self) -> float:
        """Cost over the cost of the best rule."""
        return self.cost / self.rule_cost if self.rule_cost else 1.0


def main(
    data_dir: Path, seconds: float | None = None, limit: int | None = None
) -> tuple[list[dict[str, object]], str]:
    """Plan every ``install-sched/1`` instance of ``data_dir``; return the rows and a table.

    ``limit`` is the most instances taken, smallest first.
    """
    limit_s = DEFAULT_SECONDS if seconds is None else seconds
    rows: list[Row] = []
    again: list[list[ReplanRow]] = []
    for name, document in _load(data_dir)[:limit]:
        instance = read_instance(document)
        found = plan(instance, seconds=limit_s, seed=SEED)
        rows.append(_row(name, document, instance, found))
        again.append(replan_bench.measure(name, document, instance, found, limit_s))
    documents = [
        asdict(row) | {"ratio": round(row.ratio, 4), "replans": replan_bench.documents(replans)}
        for row, replans in zip(rows, again, strict=True)
    ]
    return documents, f"{table_of(rows)}\n\n{replans_of([row for one in again for row in one])}"


def _load(data_dir: Path) -> list[tuple[str, dict[str, Any]]]:
    found = []
    for path in sorted(data_dir.glob("*.json")):
        document = json.loads(path.read_text(encoding="utf-8"))
        several = document if isinstance(document, list) else [document]
        for number, one in enumerate(several, 1):
            if isinstance(one, dict) and one.get("schema") == SCHEMA:
                name = path.stem if len(several) == 1 else f"{path.stem} {number}"
                found.append((name, one))
    return sorted(found, key=lambda item: (len(item[1]["jobs"]), item[0]))


def _row(name: str, document: dict[str, Any], instance: Instance, found: InstallPlan) -> Row:
    return Row(
        name=name,
        jobs=len(instance.jobs),
        crews=len(instance.crews),
        cost=found.cost,
        bound=found.bound,
        gap=found.gap,
        proven=found.proven,
        rule=found.rule,
        rule_cost=found.rule_cost or 0,
        seconds=found.seconds,
        violations=len(check_plan(document, plan_to_document(found))),
    )


def table_of(rows: list[Row]) -> str:
    """The rows as text, with the mean of the ratio below."""
    lines = [
        (
            row.name,
            str(row.jobs),
            str(row.crews),
            str(row.cost),
            str(row.bound),
            f"{100 * row.gap:.2f}",
            "yes" if row.proven else "no",
            f"{row.rule} {row.rule_cost}",
            f"{row.ratio:.3f}",
            f"{row.seconds:.1f}",
        )
        for row in rows
    ]
    return f"{_aligned([HEADINGS, *lines])}\n{summary_of(rows)}"


def replans_of(rows: list[ReplanRow]) -> str:
    """The re-plans as text: every visit confirmed, then nothing happens or a crew is lost."""
    head = (
        "Re-plans, every visit confirmed (fewest: visits that must change, ? where not proven; "
        "crew lost: three working days of the crew with most visits on them)"
    )
    return f"{head}\n{_aligned([replan_bench.HEADINGS, *replan_bench.cells_of(rows)])}"


def _aligned(lines: list[tuple[str, ...]]) -> str:
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    )


def summary_of(rows: list[Row]) -> str:
    if not rows:
        return "No install-sched/1 instance found."
    mean = sum(row.ratio for row in rows) / len(rows)
    wrong = sum(row.violations for row in rows)
    proven = sum(row.proven for row in rows)
    return (
        f"{proven} of {len(rows)} proven; cost / best of eight rules {mean:.3f} on average; "
        f"{wrong} violations"
    )
