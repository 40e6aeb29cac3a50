"""What a careful reader would doubt in a table of readings: swapped columns, units, signs, disagreeing recorders.

Only suspicions in words: nothing is changed. The limits are starting values of our own, told apart on real logs.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

FALL = 0.15
"""Share of its range by which a load ends below its peak after a failure."""
CREEP_BACK = 0.01
"""Share of its range by which a monotone displacement may go back in all."""
APART = (0.003, 0.10)
"""Two recorders of one quantity that differ by a factor between these are told."""
UNIT_SLIP = 30.0
"""Members of a series differ less than this by what they are; N for kN is 1000."""
RATIO_LIMIT = 0.05
"""Strains stay below this as a ratio; in um/m they pass it at once."""
FORCES = ("N", "kN", "MN", "kip", "lbf")
LENGTHS = ("mm", "cm", "m", "um", "in")
STRAINS = ("um/m", "mm/m", "m/m", "mm/mm", "strain")
_LOAD = re.compile(r"(?<![a-zà-ÿ])(load|force|last|kraft|prüfkraft|charge|carga|cell)(?![a-zà-ÿ])", re.I)
_SHIFT = re.compile(
    r"(?<![a-zà-ÿ])(disp|displ|displacement|weg|hub|stroke|lvdt|defl|deflection|durchbiegung)(?![a-zà-ÿ])", re.I
)
_STRAIN = re.compile(r"(?<![a-zà-ÿ])(eps|epsilon|strain|dehnung|dms|e[xyz]{2}|gauge|gage)(?![a-zà-ÿ])", re.I)
_SET_POINT = re.compile(r"set ?point|soll|command|target", re.I)


def kind_of(name: str, unit: str) -> str:
    """'load', 'displacement', 'strain' or '' by unit, else by the words of a name."""
    forms = (("load", FORCES, _LOAD), ("displacement", LENGTHS, _SHIFT), ("strain", STRAINS, _STRAIN))
    for kind, units, words in forms:
        if unit in units or (not unit and words.search(name.replace("_", " "))):
            return kind
    return ""


def suspicions(values: Mapping[str, Any], units: Mapping[str, str], time: Any = None) -> list[str]:
    """Sentences on a block: `values` by column (float, NaN missing), `units` of the columns, time in s if known."""
    kinds = {name: kind_of(name, units.get(name, "")) for name in values}
    loads = [n for n, k in kinds.items() if k == "load" and not _SET_POINT.search(n)]
    shifts = [n for n, k in kinds.items() if k == "displacement"]
    found = [
        f"{a!r} never falls and {b!r} ends {fall:.0%} below its peak: are the two columns swapped?"
        for a in loads
        for b in shifts
        if (fall := swapped(values[a], values[b])) is not None
    ]
    found += [
        f"{name!r} goes to {np.nanmin(values[name]):.5g} {units.get(name, '')}: counted negative under load? "
        "(the layout's `sign: -1` turns it)"
        for name in loads
        if _downward(values[name])
    ]
    for name in (n for n, k in kinds.items() if k == "strain"):
        found += [f"{name!r}: {told}" for told in strain_unit(values[name], units.get(name, ""))]
    found += _pairs(values, units, loads) + _pairs(values, units, shifts)
    if time is not None and loads:
        found += reseated(time, values[loads[0]], {n: values[n] for n in shifts})
    return found


def swapped(load: Any, displacement: Any) -> float | None:
    """Fall of the so-called displacement (share of its range) where the so-called load only rises; None otherwise."""
    load, displacement = (x[np.isfinite(x)] for x in (load, displacement))
    if min(load.size, displacement.size) < 20 or not _rises(load):
        return None
    shift = displacement if np.nanmax(displacement) >= -np.nanmin(displacement) else -displacement
    span = float(np.ptp(shift))
    fall = (float(shift.max()) - float(shift[-1])) / span if span else 0.0
    return fall if fall >= FALL and not _rises(shift) else None


def _rises(values: Any) -> bool:
    """True for a channel that only grows (or only sinks), small steps back apart, and does not rest."""
    span, back = float(np.ptp(values)), np.diff(values)
    gone = min(float(-back[back < 0].sum()), float(back[back > 0].sum()))
    return span > 0 and gone <= CREEP_BACK * span and np.unique(values).size > 10


def _downward(load: Any) -> bool:
    finite = load[np.isfinite(load)]
    return finite.size >= 20 and -finite.min() > 3.0 * max(finite.max(), 0.0) and np.ptp(finite) > 0


def strain_unit(values: Any, unit: str) -> list[str]:
    """Doubts on the unit of a strain: |x| below 0.05 is a ratio, hundreds are um/m."""
    finite = np.abs(values[np.isfinite(values)])
    if finite.size < 20 or not finite.any():
        return []
    top = float(finite.max())
    if unit in ("um/m", "mm/m") and top < RATIO_LIMIT:
        return [f"stays below {top:.2g} {unit}, which would be the size of a ratio (m/m): is its unit right?"]
    if unit in ("m/m", "mm/mm", "strain") and top > 1.0:
        return [f"reaches {top:.4g} {unit}, which would be the size of um/m: is its unit right?"]
    if not unit:
        size = "a ratio (m/m)" if top < RATIO_LIMIT else "um/m" if top > 10.0 else ""
        return [f"has no unit and reaches {top:.2g}: by its size {size}; name it in the layout"] if size else []
    return []


def _pairs(values: Mapping[str, Any], units: Mapping[str, str], names: Sequence[str]) -> list[str]:
    """Columns of one kind that disagree by a constant factor."""
    out = []
    for i, a in enumerate(names[:20]):
        for b in names[i + 1 : 20]:
            if units.get(a, "") != units.get(b, ""):
                continue
            ratio = constant_factor(values[a], values[b])
            if ratio is not None:
                told = factor_words(ratio)
                if told:
                    out.append(f"{b!r} is {ratio:.4g} times {a!r} throughout: {told}")
    return out


def factor_words(ratio: float) -> str:
    """What a factor between two recorders of one quantity speaks for; '' where they agree or have nothing in common."""
    size = max(abs(ratio), 1.0 / abs(ratio))
    if APART[0] < size - 1.0 < APART[1]:
        hint = " (9.80665/10, a slip of kgf and daN, would be 0.9807 or 1.0197)" if abs(size - 1.0197) < 0.003 else ""
        return f"two recorders of one quantity that disagree by {size - 1:.1%}{hint}"
    for power, words in ((1000.0, "N and kN, or m and mm"), (4.448, "kip and kN"), (25.4, "in and mm")):
        if abs(size / power - 1.0) < APART[1] / 2:
            return f"the same quantity in two units, {words}?"
    return ""


def constant_factor(a: Any, b: Any) -> float | None:
    """The factor b/a where it is the same over the readings (spread of its middle half below 0.5 %), else None."""
    good = np.isfinite(a) & np.isfinite(b)
    if good.sum() < 20:
        return None
    a, b = a[good], b[good]
    large = (np.abs(a) > 0.2 * np.abs(a).max()) & (np.abs(b) > 0.2 * np.abs(b).max())
    if large.sum() < 20 or np.unique(a[large]).size < 10:
        return None
    low, middle, high = np.percentile(b[large] / a[large], [25, 50, 75])
    return float(middle) if middle and abs((high - low) / middle) < 0.005 else None


def odd_sizes(values: Mapping[str, float]) -> dict[str, float]:
    """Members of a series that are `UNIT_SLIP` times larger or smaller than its median, as that ratio.

    With fewer than three nothing tells which of two is wrong, and nothing is given.
    """
    known = {name: abs(v) for name, v in values.items() if np.isfinite(v) and v}
    if len(known) < 3:
        return {}
    middle = float(np.median(list(known.values())))
    ratios = {n: v / middle for n, v in known.items()}
    return {n: r for n, r in ratios.items() if max(r, 1.0 / r) > UNIT_SLIP}


def reseated(time: Any, load: Any, shifts: Mapping[str, Any]) -> list[str]:
    """Displacements that jump while the load rests before the loading: set to zero, touched or seated anew."""
    size = np.abs(load - np.nanmedian(load[:10])) if np.isfinite(load[:10]).any() else np.zeros(0)
    top = np.nanmax(size, initial=0.0)
    rest = int(np.argmax(size > 0.03 * top)) if top else 0
    if rest < 20:
        return []
    jumped = {}
    for name, values in shifts.items():
        step = _jump(values, rest)
        if step is not None:
            jumped[name] = (step[0], float(time[step[1]]))
    if not jumped:
        return []
    told = ", ".join(f"{name!r} by {jump:+.4g} at {at:.5g} s" for name, (jump, at) in jumped.items())
    return [f"while the load rests, jumps of {told}: set to zero or seated anew? The zero window must lie behind"]


def _jump(values: Any, rest: int) -> tuple[float, int] | None:
    """Height and row of the largest step within the first `rest` rows, if it stands out and lasts."""
    before = values[:rest]
    steps = np.diff(before)
    known = steps[np.isfinite(steps)]
    moved = np.ptp(values[rest:][np.isfinite(values[rest:])]) if np.isfinite(values[rest:]).any() else 0.0
    if known.size < 20:
        return None
    row = int(np.nanargmax(np.abs(steps)))
    noise = 1.4826 * float(np.median(np.abs(known - np.median(known))))
    lasting = np.nanmedian(before[row + 1 : row + 11]) - np.nanmedian(before[max(0, row - 9) : row + 1])
    stands_out = abs(steps[row]) > max(20.0 * noise, 0.02 * moved) and abs(lasting) > 0.5 * abs(steps[row])
    return (float(steps[row]), row + 1) if stands_out else None
