"""Benches keep their names over a re-cut: a crew finds its work at the bench where it was.

Planned steps and the issued plan go in, the same steps with the benches of the issued book come out.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from assembler.figure.ids import BenchId, natural_key
from assembler.figure.plan import Plan, Step
from assembler.figure.titles import titled
from assembler.recut.stepmatch import match_steps


def with_issued_benches(steps: Sequence[Step], issued: Plan) -> tuple[Step, ...]:
    """The steps with the bench names of the issued book.

    Parameters
    ----------
    steps
        As planned.
    issued
        The plan of the last issued book.

    Returns
    -------
    tuple of Step
        A bench takes the name of the issued bench with which it shares most jobs, the largest share first; a bench
        that is new gets the next free name. Two benches never get one name.
    """
    old = issued.steps
    shared = Counter((steps[index].bench, old[match].bench) for index, match in match_steps(old, steps).items())
    names: dict[str, str] = {}
    by_share = sorted(shared.items(), key=lambda item: (-item[1], natural_key(item[0][0]), natural_key(item[0][1])))
    for (bench, was), _ in by_share:
        if bench not in names and was not in names.values():
            names[bench] = was
    taken = {*names.values(), *(step.bench for step in old)}
    for bench in sorted({step.bench for step in steps} - names.keys(), key=natural_key):
        names[bench] = bench if bench not in taken else _next_name(taken)
        taken.add(names[bench])
    if all(bench == name for bench, name in names.items()):
        return tuple(steps)
    return tuple(_renamed(step, names) for step in steps)


def _next_name(taken: Iterable[str]) -> str:
    numbers = [int(match.group(1)) for name in taken if (match := re.fullmatch(r"B(\d+)", name))]
    return f"B{max(numbers, default=0) + 1}"


def _renamed(step: Step, names: Mapping[str, str]) -> Step:
    heading = step.heading
    if heading is not None and heading.bench is not None:
        heading = replace(heading, bench=BenchId(names.get(heading.bench, heading.bench)))
    return titled(replace(step, bench=BenchId(names[step.bench]), heading=heading))
