"""The look of the few pages the service has: plain HTML with one style, nothing from elsewhere."""

import base64
import hashlib
from collections.abc import Iterable, Mapping
from html import escape

STYLE = """
:root { color-scheme: light dark; --ink: #23201c; --paper: #fbf8f2; --line: #d9cfbf;
  --oak: #8a5a24; --quiet: #6d6459; --wash: #f1e9dc; }
@media (prefers-color-scheme: dark) { :root { --ink: #ece5d9; --paper: #1d1a17; --line: #463e34;
  --oak: #dba766; --quiet: #a79c8d; --wash: #2a251f; } }
body { margin: 0 auto; max-width: 60rem; padding: 1.5rem 1rem 4rem; color: var(--ink);
  background: var(--paper); font: 1rem/1.55 Georgia, "Times New Roman", serif; }
h1 { font-size: 1.9rem; margin: 0 0 .3rem; } h2 { margin: 2.6rem 0 .6rem; font-size: 1.35rem;
  border-bottom: 2px solid var(--oak); } h3 { margin: 1.8rem 0 .3rem; font-size: 1.05rem; }
code, pre, .at { font-family: ui-monospace, "DejaVu Sans Mono", Menlo, Consolas, monospace;
  font-size: .88em; } pre { background: var(--wash); padding: .8rem; overflow-x: auto;
  border-left: 3px solid var(--oak); } .at b { color: var(--oak); }
table { border-collapse: collapse; width: 100%; margin: .5rem 0 1rem; font-size: .92rem; }
th, td { text-align: left; vertical-align: top; padding: .3rem .7rem .3rem 0;
  border-bottom: 1px solid var(--line); } th { color: var(--quiet); font-weight: normal; }
a { color: var(--oak); } .quiet { color: var(--quiet); } summary { cursor: pointer; }
nav ul { columns: 3 14rem; padding-left: 1.1rem; } dt { font-weight: bold; margin-top: .8rem; }
dd { margin: 0 0 .4rem; } .wide { overflow-x: auto; } caption { text-align: left; }
td.count, td.share, td.number { font-variant-numeric: tabular-nums; }
.piece { white-space: nowrap; }
@media (max-width: 40rem) { code, .at { overflow-wrap: anywhere; } }
@media print { body { max-width: none; font-size: .8rem; padding: 0; } tr { break-inside: avoid; }
  h2 { break-after: avoid; } .wide { overflow: visible; } }
"""
_HASH = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": f"default-src 'none'; style-src 'sha256-{_HASH}'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
}


def page(title: str, body: str) -> bytes:
    """Put a body into a whole page."""
    return page_of(title, body, STYLE)


def page_of(title: str, body: str, style: str) -> bytes:
    """Put a body into a whole page of a style of its own."""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{style}</style>\n</head>\n<body>\n"
        f"<main>\n{body}\n</main>\n</body>\n</html>\n"
    ).encode()


def paragraphs(text: str) -> str:
    """Write a docstring's paragraphs; what stands in back-ticks is code."""
    return "".join(f"<p>{inline(part)}</p>" for part in text.split("\n\n") if part.strip())


def inline(text: str) -> str:
    """Write one line of words, with its code."""
    parts = escape(" ".join(text.split()), quote=False).split("`")
    if len(parts) % 2 == 0:
        return "`".join(parts)
    return "".join(f"<code>{part}</code>" if i % 2 else part for i, part in enumerate(parts))


def table(headings: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """Write a table of cells that are HTML already."""
    head = "".join(f'<th scope="col">{escape(word)}</th>' for word in headings)
    body = "".join("<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>" if body else ""
