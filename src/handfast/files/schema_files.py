"""The JSON Schemas of all project files, as they are written to disk."""

from __future__ import annotations

import json

from handfast.files.json_schema import json_schema
from handfast.files.schema.project import SCHEMAS


def schema_texts() -> dict[str, str]:
    """By file name: project, product, cell and errors."""
    return {
        schema_name(role): json.dumps(json_schema(spec, f"{role}.yaml"), indent=1, ensure_ascii=False) + "\n"
        for role, spec in SCHEMAS.items()
    }


def schema_name(role: str) -> str:
    """Of the file that describes project, product, cell or errors."""
    return f"{role}.schema.json"


def pointer(role: str, folder: str) -> str:
    """The line by which a YAML file tells editors its schema in that folder."""
    return f"# yaml-language-server: $schema={folder}/{schema_name(role)}\n"
