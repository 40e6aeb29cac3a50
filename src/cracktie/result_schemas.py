"""JSON Schemas of results: what `to_dict()` of a prediction, of reduced tests, of a comparison and of mechanics holds.

A reader of out/*.json may rely on them; a change that breaks one raises `cracktie.results.SCHEMA_VERSION`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cracktie.errors import UnknownName
from cracktie.results import SCHEMA_VERSION

DIALECT = "https://json-schema.org/draft/2020-12/schema"
KINDS = ("prediction", "reduced", "comparison", "mechanics")

Schema = dict[str, Any]

TEXT: Schema = {"type": "string"}
FLAG: Schema = {"type": "boolean"}
COUNT: Schema = {"type": "integer", "minimum": 0}
NUMBER: Schema = {"type": "number"}
NUMBER_OR_NONE: Schema = {"type": ["number", "null"]}
TEXT_OR_NONE: Schema = {"type": ["string", "null"]}


def result_schema(kind: str) -> Schema:
    """JSON Schema (2020-12) of one kind of result; raises `UnknownName`."""
    if kind not in KINDS:
        raise UnknownName(f"no result is called {kind!r}; there are {', '.join(KINDS)}")
    made = {"prediction": _prediction, "reduced": _reduced, "comparison": _comparison, "mechanics": _mechanics}
    body = made[kind]()
    head: dict[str, Schema] = {
        "kind": {"const": kind},
        "schema": {"const": SCHEMA_VERSION, "description": "version of this form"},
        "cracktie": {**TEXT, "description": "version of the tool that wrote the file"},
        "title": TEXT,
    }
    return {"$schema": DIALECT, "title": f"{kind}.json", "$defs": {"quantity": _quantity()}, **_closed(head | body)}


def _closed(properties: Mapping[str, Schema], optional: Mapping[str, Schema] | None = None) -> Schema:
    """An object that holds these keys and no others; `optional` ones may be missing."""
    return {
        "type": "object",
        "properties": {**properties, **(optional or {})},
        "required": list(properties),
        "additionalProperties": False,
    }


def _list(of: Schema) -> Schema:
    return {"type": "array", "items": of}


def _map(of: Schema) -> Schema:
    return {"type": "object", "additionalProperties": of}


def _quantity() -> Schema:
    """A tidy row; where there is no value a reason stands, and further keys say where the number belongs."""
    properties = {
        "item": {**TEXT, "description": "test, or specimen and span"},
        "quantity": {**TEXT, "description": "name of the glossary"},
        "symbol": TEXT,
        "source": {**TEXT, "description": "guideline set, measured, or how it was found"},
        "value": {**NUMBER_OR_NONE, "description": "in the unit beside it"},
        "u": {**NUMBER_OR_NONE, "description": "standard uncertainty where known"},
        "unit": TEXT,
        "status": TEXT,
        "bound": {**FLAG, "description": "a lower bound: print it with >="},
        "simulated": FLAG,
    }
    unexplained = {"properties": {"value": {"type": "null"}}}
    return {
        "type": "object",
        "properties": {**properties, "reason": TEXT},
        "required": list(properties),
        "if": unexplained,
        "then": {"required": ["reason"]},
    }


_QUANTITY: Schema = {"$ref": "#/$defs/quantity"}


def _prediction() -> dict[str, Schema]:
    inputs = {
        "specimen": TEXT,
        "span": TEXT,
        "test": TEXT_OR_NONE,
        "values": _map({"type": ["number", "string", "boolean", "null"]}),
        "sources": _map({**TEXT, "description": "file and key, or how the value follows from others"}),
        "missing": _map({**TEXT, "description": "what a model may ask for and the files do not say"}),
        "u": _map(NUMBER),
        "notes": _list(TEXT),
    }
    return {
        "form": {"enum": ["test", "design"]},
        "inputs_choice": {"enum": ["measured", "nominal", "characteristic"]},
        "sets": _map(_closed({"title": TEXT, "host": TEXT_OR_NONE})),
        "rows": _list(_QUANTITY),
        "inputs": _list(_closed(inputs)),
        "skipped": _map({**TEXT, "description": "why nothing is predicted"}),
    }


def _reduced() -> dict[str, Schema]:
    event = {
        "kind": TEXT,
        "time": {**NUMBER_OR_NONE, "description": "s"},
        "V": {**NUMBER_OR_NONE, "description": "N"},
        "channel": TEXT,
        "method": TEXT,
        "confidence": {**NUMBER, "minimum": 0, "maximum": 1},
        "evidence": TEXT,
        "status": TEXT,
    }
    more_of_event = {
        "row": {**COUNT, "description": "row of the test's common clock"},
        "strip": {"type": ["integer", "null"]},
        "face": TEXT_OR_NONE,
        "detail": {**TEXT, "description": "finer kind where the gauges tell it: fan, dowel, strip end, crack-induced"},
        "proposed": {"type": ["object", "null"], "description": "what was proposed before the engineer's choice"},
        "reason": TEXT_OR_NONE,
    }
    log = {
        "name": TEXT,
        "sha256": {**TEXT, "pattern": "^[0-9a-f]{64}$"},
        "rows": COUNT,
        "report": _list(TEXT),
        "simulated": FLAG,
    }
    test = {
        "test": TEXT,
        "specimen": TEXT,
        "span": TEXT,
        "batch": TEXT_OR_NONE,
        "outcome": TEXT_OR_NONE,
        "state": TEXT,
        "lower_bound": {**FLAG, "description": "V_max is only a lower bound of the resistance"},
        "fault": {**FLAG, "description": "in no statistic"},
        "simulated": FLAG,
        "values": _list(_QUANTITY),
        "events": _list(_closed(event, more_of_event)),
        "notes": _list(TEXT),
        "section": TEXT,
        "logs": _list(_closed(log)),
        "trail": _list({"type": "object"}),
    }
    problem = {
        "level": {"enum": ["error", "warning"]},
        "file": TEXT,
        "message": TEXT,
        "line": {"type": ["integer", "null"]},
        "column": {"type": ["integer", "null"]},
        "key": TEXT,
        "value": TEXT_OR_NONE,
        "fix": TEXT,
    }
    mode = {
        "modes": {**_list(TEXT), "description": "of the closed list; several where gauges cannot tell them apart"},
        "source": {"enum": ["observed", "measured"]}, "V": NUMBER_OR_NONE, "time": NUMBER_OR_NONE,
        "strip": {"type": ["integer", "null"]}, "face": TEXT_OR_NONE, "anchor": TEXT_OR_NONE, "confidence": TEXT,
        "evidence": TEXT, "agreement": {**TEXT, "description": "what the other source says to it"},
    }  # fmt: skip
    budgets = {
        "budgets": {"type": "object", "description": "what the uncertainty of a value is made of"},
        "failure_modes": _list(_closed(mode)),
    }
    return {
        "simulated": FLAG,
        "tests": _list(_closed(test, budgets)),
        "skipped": _map({**TEXT, "description": "why a test has no result"}),
        "warnings": _list(_closed(problem)),
    }


def _ratio() -> Schema:
    """A ratio with its interval; `high` is null where a lower bound leaves it open."""
    return _closed(
        {
            "value": NUMBER,
            "low": NUMBER,
            "high": NUMBER_OR_NONE,
            "level": NUMBER,
            "critical": {**NUMBER, "description": "least ratio that shows"},
            "n": _list(COUNT),
            "cv": NUMBER,
            "dof": NUMBER_OR_NONE,
            "scatter": TEXT,
            "bound": FLAG,
            "verdict": TEXT,
        }
    )


def _comparison() -> dict[str, Schema]:
    names = _list(TEXT)
    tested = {
        "test": TEXT, "set": TEXT, "title": TEXT, "V_test": NUMBER, "V_R": NUMBER, "ratio": NUMBER, "bound": FLAG,
        "V_f_test": NUMBER_OR_NONE, "V_f_pred": NUMBER_OR_NONE, "V_f_ratio": NUMBER_OR_NONE, "status": TEXT,
        "outside": names,
    }  # fmt: skip
    summary = {
        "set": TEXT, "title": TEXT, "n": COUNT, "of": COUNT, "mean": NUMBER_OR_NONE, "cv": NUMBER_OR_NONE,
        "low": NUMBER_OR_NONE, "high": NUMBER_OR_NONE, "left_out": names,
    }  # fmt: skip
    forces = dict.fromkeys(("V_max", "V_ctl", "V_ctl_scaled", "V_c", "V_s", "V_f", "u_beam", "u_design"), NUMBER)
    forces |= {"u_instruments": NUMBER, "u_reference": NUMBER, "low": NUMBER, "high": NUMBER_OR_NONE}
    share = {"test": TEXT, "reference": names, "p": {"enum": ["1/2", "1/3"]}, "V_s_how": TEXT, "bound": FLAG, **forces}
    gain = {"item": TEXT, "members": names, "role": TEXT, "reference": names, "ratio": _ratio()}
    contrast = {"name": TEXT, "what": TEXT, "upper": names, "lower": names, "ratio": _ratio(), "warnings": names}
    over = {
        "test": TEXT, "reference": names, "value": NUMBER, "low": NUMBER_OR_NONE, "high": NUMBER_OR_NONE, "bound": FLAG,
    }  # fmt: skip
    return {
        "simulated": FLAG,
        "scatter": _closed({"cv": NUMBER, "dof": NUMBER_OR_NONE, "origin": TEXT}),
        "test_prediction": _list(_closed(tested)),
        "summaries": _list(_closed(summary)),
        "shares": _list(_closed(share)),
        "gains": _list(_closed(gain)),
        "contrasts": _list(_closed(contrast)),
        "share_ratios": _list(_closed(over)),
        "left_out": _map(TEXT),
        "agreements": _list({"type": "object"}),
    }


def _mechanics() -> dict[str, Schema]:
    """Shear over the crack opening; curves have one number an opening, N and mm, strains as ratios."""
    line = _list(NUMBER)
    coefficient = _closed({"value": NUMBER, "low": NUMBER, "high": NUMBER, "unit": TEXT, "status": TEXT, "why": TEXT})
    interval = _map(_closed(dict.fromkeys(("mean", "sd", "median", "fractile_5", "low", "high"), NUMBER_OR_NONE)))
    case = {
        "name": TEXT, **dict.fromkeys(("w", "V_f", "V_s", "V_c", "V"), line), "peaks": _map(NUMBER_OR_NONE),
        "inputs_only": interval, "with_model_error": interval,
    }  # fmt: skip
    event = _closed({"what": TEXT, "strip": {"type": ["integer", "null"]}, "w": NUMBER, "V": NUMBER})
    strip = _closed({"strip": COUNT, "z": NUMBER, "crossed": NUMBER, "force": line, "strain": line})
    gauge = _closed({
        "gauge": TEXT, "x": {**NUMBER, "description": "from the support of the span"}, "z": NUMBER,
        "gauge_length": NUMBER, "strip": {"type": ["integer", "null"]}, "face": TEXT, "crossed": NUMBER,
        "mean": line, "low": line, "high": line,
    })  # fmt: skip
    beam = _closed({
        "item": TEXT, "specimen": TEXT, "span": TEXT, "test": TEXT_OR_NONE, "scheme": TEXT, "anchored": FLAG,
        "why": {**TEXT, "description": "reason where nothing is predicted"}, "notice": TEXT,
        "cases": _list(_closed(case)),
        "events": _list(event), "strips": _list(strip), "gauges": _list(gauge), "anchor": {"type": "object"},
        "anchor_ends": _map(NUMBER), "V_flex": NUMBER_OR_NONE, "published_strain": {"type": ["object", "null"]},
        "theta": NUMBER_OR_NONE, "theta_from": TEXT, "V_c0_from": TEXT, "notes": _list(TEXT), "warnings": _list(TEXT),
    })  # fmt: skip
    return {
        "law": TEXT, "crack_positions": COUNT, "coefficients": _map(coefficient), "beams": _list(beam),
        "skipped": _map(TEXT),
    }  # fmt: skip
