"""JSON Schemas of the campaign files, for editors that complete keys and underline slips."""

from __future__ import annotations

from typing import Any

from cracktie.campaign.schema import FILES, Head, Specimens

DIALECT = "https://json-schema.org/draft/2020-12/schema"
ONE_BEAM = "beam.yaml"
"""Name under which `schemas` holds the schema of one-beam files."""


def schemas() -> dict[str, dict[str, Any]]:
    """File name -> JSON Schema, for every file of a campaign folder and for one-beam files."""
    found = {name: _schema(model) for name, model in FILES.items()}
    specimens = _schema(Specimens)
    _open_to_heirs(specimens)
    found["specimens.yaml"] = specimens
    found[ONE_BEAM] = _one_beam()
    return {name: {"$schema": DIALECT, "title": name} | schema for name, schema in sorted(found.items())}


def _schema(model: Any) -> dict[str, Any]:
    made: dict[str, Any] = model.model_json_schema(mode="validation")
    made.pop("title", None)
    _loosen(made)
    return made


def _loosen(node: Any) -> None:
    """Whole numbers and booleans may be quoted, and texts may look like numbers: the reader takes the raw text."""
    if isinstance(node, list):
        for below in node:
            _loosen(below)
    if not isinstance(node, dict):
        return
    node.pop("default", None)
    if node.get("type") == "string" and "pattern" not in node:
        node["type"] = ["string", "number", "boolean"]
    for below in node.values():
        _loosen(below)


def _open_to_heirs(schema: dict[str, Any]) -> None:
    """Any key may be inherited, so none is required; any value may be the word none; `like` names the base."""
    for definition in (schema, *schema.get("$defs", {}).values()):
        definition.pop("required", None)
        if definition is not schema:
            keys = definition.get("properties", {})
            definition["properties"] = {key: {"anyOf": [value, {"const": "none"}]} for key, value in keys.items()}
    specimen = schema["$defs"]["Specimen"]["properties"]
    del specimen["id"]
    specimen["like"] = {"type": ["string", "number"], "description": "specimen whose nominal design is copied"}


def _one_beam() -> dict[str, Any]:
    """Keys of campaign.yaml with the whole of materials.yaml and one specimen beside them."""
    head, materials, specimens = _schema(Head), _schema(FILES["materials.yaml"]), _schema(Specimens)
    definitions = {**head.get("$defs", {}), **materials.pop("$defs", {}), **specimens.get("$defs", {})}
    beam = definitions["Specimen"]
    beam["required"] = [key for key in beam.get("required", []) if key != "id"]
    own = {"materials": materials, "specimen": {"$ref": "#/$defs/Specimen"}}
    head["properties"] |= own
    return head | {"$defs": definitions, "required": ["specimen"]}
