"""The interface as one page, made here from its own schema: nothing is fetched from anywhere."""

from collections.abc import Iterator, Mapping
from html import escape
from typing import Any

from pydantic import TypeAdapter

from logger.wire.stream import LiveMessage

_STYLE = (
    "body{font:16px/1.5 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem}"
    "h2{margin-top:2.5rem}code,pre{font-family:ui-monospace,monospace}"
    "table{border-collapse:collapse;width:100%}"
    "td,th{border:1px solid #888;padding:.3rem .6rem;text-align:left;vertical-align:top}"
)


def with_live_link(schema: dict[str, Any]) -> dict[str, Any]:
    """Return the OpenAPI document with the messages of the live link, of which its language knows nothing."""
    messages = TypeAdapter(LiveMessage).json_schema(
        mode="serialization", ref_template="#/components/schemas/{model}"
    )["$defs"]
    known = {**messages, **schema["components"]["schemas"]}
    return {**schema, "components": {**schema["components"], "schemas": known}}


def page_of(schema: Mapping[str, Any]) -> str:
    """Return the page of an OpenAPI 3.1 document: every route, then every message with its fields."""
    info = schema["info"]
    title = escape(f"{info['title']} {info['version']}")
    body = "\n".join((*_routes(schema), *_messages(schema)))
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{_STYLE}</style></head><body><h1>{title}</h1>"
        "<p>Beadwatch advises and records; it does not certify and never drives the rig. "
        'The same as JSON: <a href="openapi.json">openapi.json</a>. '
        "The live link is a WebSocket at <code>/v1/live?joint=&amp;since=</code>: a "
        '<a href="#HelloMessage">HelloMessage</a>, a <a href="#SnapshotMessage">SnapshotMessage</a>, then '
        '<a href="#UpdateMessage">UpdateMessage</a>s.</p>'
        f"{body}</body></html>"
    )


def _routes(schema: Mapping[str, Any]) -> Iterator[str]:
    yield "<h2>Routes</h2><table><tr><th>route</th><th>takes</th><th>answers</th></tr>"
    for path, methods in schema["paths"].items():
        for method, route in methods.items():
            takes = [parameter["name"] for parameter in route.get("parameters", ())]
            body = route.get("requestBody", {}).get("content", {}).get("application/json", {}).get("schema")
            answer = route["responses"]["200"].get("content", {}).get("application/json", {}).get("schema")
            cells = (
                f"<code>{escape(method.upper())} {escape(path)}</code>",
                ", ".join((*map(escape, takes), *((_type(body),) if body else ()))),
                _type(answer) if answer else "",
            )
            yield f"<tr>{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>"
    yield "</table>"


def _messages(schema: Mapping[str, Any]) -> Iterator[str]:
    for name, model in schema.get("components", {}).get("schemas", {}).items():
        yield f'<h2 id="{escape(name)}">{escape(name)}</h2><p>{escape(model.get("description", ""))}</p>'
        if "properties" in model:
            rows = "".join(
                f"<tr><td><code>{escape(key)}</code></td><td>{_type(field)}</td></tr>"
                for key, field in model["properties"].items()
            )
            yield f"<table><tr><th>field</th><th>type</th></tr>{rows}</table>"
        elif "enum" in model:
            yield f"<p>{_type(model)}</p>"


def _type(field: Mapping[str, Any]) -> str:
    """Return a field's type in words, with links to messages."""
    if "$ref" in field:
        name = escape(field["$ref"].rpartition("/")[2])
        return f'<a href="#{name}">{name}</a>'
    for key in ("anyOf", "oneOf"):
        if key in field:
            return " or ".join(_type(one) for one in field[key])
    if "const" in field:
        return f"<code>{escape(str(field['const']))}</code>"
    if "enum" in field:
        return ", ".join(f"<code>{escape(str(value))}</code>" for value in field["enum"])
    if field.get("type") == "array":
        return f"list of {_type(field.get('items', {}))}"
    return escape(str(field.get("type", "any")))
