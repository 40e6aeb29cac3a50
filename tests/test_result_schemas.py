"""Results keep to their JSON Schemas, and the schemas tell a changed result from a sound one."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import jsonschema
import pytest

from cracktie import actions
from cracktie.errors import UnknownName
from cracktie.result_schemas import KINDS, result_schema

from .small import CAMPAIGN, TESTS, campaign, log

PRIOR = (
    CAMPAIGN + "analysis: {prior_scatter: {cv: 8 %, source: own earlier beams}, contrasts: [unanchored / control]}\n"
)
BOUND = TESTS.replace("logs: [logs/U1.csv], outcome: shear in studied span", "logs: [logs/U1.csv], outcome: flexure")


def plain(result: object) -> dict:
    return json.loads(json.dumps(result.to_dict(), allow_nan=False))


@pytest.fixture(scope="module")
def results(tmp_path_factory) -> dict[str, dict]:
    opened = actions.open_campaign(campaign(tmp_path_factory.mktemp("schemas")))
    made = {
        "prediction": actions.predict(opened),
        "reduced": actions.reduce(opened),
        "comparison": actions.compare(opened),
        "mechanics": actions.predict_mechanics(opened),
    }
    return {kind: plain(result) for kind, result in made.items()}


@pytest.mark.parametrize("kind", KINDS)
def test_a_result_keeps_to_its_schema(results, kind: str) -> None:
    schema = result_schema(kind)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(results[kind], schema, jsonschema.Draft202012Validator)


def test_awkward_campaigns_keep_to_them_too(tmp_path: Path) -> None:
    changes = [
        {"campaign.yaml": PRIOR.replace("{group: REF}", "{group: REF}, unanchored: {group: U1}")},
        {"tests.yaml": BOUND},
        {"logs/U1.csv": "Time [s],P [kN]\n"},
        {"logs/U1.csv": log(210.0).replace(",D [mm]", ",other")},
    ]
    for number, change in enumerate(changes):
        opened = actions.open_campaign(campaign(tmp_path / str(number), change))
        for form in ("test", "design"):
            jsonschema.validate(plain(actions.predict(opened, form=form)), result_schema("prediction"))
        jsonschema.validate(plain(actions.reduce(opened)), result_schema("reduced"))
        jsonschema.validate(plain(actions.compare(opened)), result_schema("comparison"))


def missing(result: dict) -> None:
    del result["title"]


def unknown(result: dict) -> None:
    result["more"] = 1


def renamed(result: dict) -> None:
    result["kind"] = "other"


def newer(result: dict) -> None:
    result["schema"] += 1


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("change", [missing, unknown, renamed, newer])
def test_a_changed_result_does_not_pass(results, kind: str, change) -> None:
    result = copy.deepcopy(results[kind])
    change(result)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(result, result_schema(kind))


def test_a_missing_value_needs_its_reason(results) -> None:
    result = copy.deepcopy(results["prediction"])
    row = next(r for r in result["rows"] if r["value"] is not None)
    row["value"] = None
    row.pop("reason", None)
    with pytest.raises(jsonschema.ValidationError, match="reason"):
        jsonschema.validate(result, result_schema("prediction"))


def test_written_for_editors_beside_those_of_the_campaign_files(tmp_path: Path) -> None:
    names = {path.name for path in actions.write_schemas(tmp_path / "schemas")}
    assert {f"{kind}.json.schema.json" for kind in KINDS} | {"specimens.yaml.schema.json"} <= names
    held = json.loads((tmp_path / "schemas" / "reduced.json.schema.json").read_text(encoding="utf-8"))
    assert held == result_schema("reduced")
    with pytest.raises(UnknownName, match="prediction, reduced, comparison, mechanics"):
        result_schema("predictions")
