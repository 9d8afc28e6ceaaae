"""The replay for machines: JSON with every number, and events as CSV."""

import csv
import json
import math
from pathlib import Path
from typing import Any

from sim.replay.disagreements import Disagreements
from sim.replay.result import Result
from sim.replay.sources import source_rows

LAYOUT = 1
"""Version of the JSON layout."""


def result_json(result: Result) -> str:
    """Everything that was found; numbers that are not finite become null. Sorted keys, so that equal results are equal
    texts."""
    return json.dumps(_clean(_as_dict(result)), indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def write_events(path: Path, result: Result) -> None:
    """`events.csv`: log time, kind, subject, modes, first-out, text."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("time_s", "kind", "subject", "source", "dest", "first_out", "text"))
        for event in result.run.events:
            writer.writerow((f"{event.time_s:.6f}", event.kind.value, event.subject, event.source, event.dest,
                             event.first_out, event.told))  # fmt: skip


def _as_dict(result: Result) -> dict[str, Any]:
    run = result.run
    return {
        "layout": LAYOUT,
        "recording": {
            "name": result.name,
            "kind": result.kind,
            "first_stamp_s": result.begin,
            "duration_s": result.end_s,
            "frames": result.frames,
            "frames_for_the_supervisor": result.fed,
            "stopped_by_hand": result.stopped,
            "health": result.health.as_dict(),
            "channels": list(result.wiring),
            "sources": [row._asdict() for row in source_rows(result)],
        },
        "boat": run.boat,
        "tick_s": run.tick_s,
        "assumed": dict(result.assumed),
        "ticks": result.ticks,
        "ticks_passed_over_in_gaps": result.gap_ticks,
        "decisions_sha256": run.digest,
        "inputs": {reading.name: _without(reading._asdict(), "name") for reading in run.readings},
        "modes": [span._asdict() for span in run.spans],
        "mode_time_s": {f"{name} {mode}": time_s for (name, mode), time_s in run.mode_s.items()},
        "mode_changes": run.mode_changes,
        "trips": [trip._asdict() for trip in run.trips],
        "held_back": [held._asdict() for held in run.held],
        "events": len(run.events) + run.events_lost,
        "buses": run.bus_report,
        "shadow": None if result.shadow is None else {
            "frames": result.shadow.frames, "bad_frames": result.shadow.bad, "compared": list(result.shadow.rows),
            **_disagreements(result.shadow.disagreements),
        },
        "what_if": None if result.difference is None else {
            "settings": result.difference.settings, "first_difference_s": result.difference.first_s,
            "ticks_that_differ": result.difference.ticks, **_disagreements(result.difference.disagreements),
        },
        "requirements": [
            {"orders_of": report.of, "records": report.records,
             "verdicts": [judgement._asdict() for judgement in report.judgements],
             "unjudged": dict(report.unjudged)}
            for report in result.rules
        ],
    }  # fmt: skip


def _disagreements(disagreements: Disagreements) -> dict[str, Any]:
    return {
        "comparisons": disagreements.compared,
        "beyond_tolerance": disagreements.different,
        "brief": disagreements.brief,
        "more": disagreements.more,
        "time_s": dict(disagreements.total_s),
        "stretches": [stretch._asdict() for stretch in disagreements.stretches],
    }


def _without(entry: dict[str, Any], key: str) -> dict[str, Any]:
    return {name: value for name, value in entry.items() if name != key}


def _clean(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {str(key): _clean(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(item) for item in value]
    return value
