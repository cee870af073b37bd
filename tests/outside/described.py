"""What the API's description says of an answer, as a schema that knows every key."""

import copy

import jsonschema

# What is served as JSON and described.
PATHS = ["/api/v1/floor", "/api/v1/state", "/api/v1/history", "/api/v1/energy", "/api/v1/session"]

# What is served of the book of repairs: lists and objects.
BOOK_PATHS = ["/api/v1/book/faults", "/api/v1/book/panels", "/api/v1/book/checklist"]
BOOK_PANEL = "/api/v1/book/panels/{serial}"


def schema(document, path, method="get", status="200"):
    """The schema of what is answered at a path. A key that is not described is a fault."""
    answers = document["paths"][path][method]["responses"][status]
    answer = answers["content"]["application/json"]["schema"]
    whole = copy.deepcopy({**answer, "components": document["components"]})
    _close(whole)
    return jsonschema.Draft202012Validator(whole)


def _close(schema):
    """Lets objects have the keys that are described and no others."""
    if isinstance(schema, dict):
        if isinstance(schema.get("properties"), dict):
            schema.setdefault("additionalProperties", False)
        for part in schema.values():
            _close(part)
    elif isinstance(schema, list):
        for part in schema:
            _close(part)


def faults(schema, answer):
    """What is wrong with an answer, each with its place."""
    return [f"{error.json_path}: {error.message}" for error in schema.iter_errors(answer)]
