"""Documents as pages of HTML: the same blocks as the PDF, to read on a screen or print from it."""

import base64
import hashlib
from collections.abc import Mapping
from html import escape

from coatledger_adapters import qr
from coatledger_adapters.printed.document import (
    Block,
    Document,
    Heading,
    Listed,
    Paragraph,
    Table,
)

from coatledger_api.pages import STYLE, page_of

_STYLE = (
    STYLE
    + """
article { margin: 0 0 4rem; } header { display: flex; gap: 1.5rem; align-items: flex-start; }
header > div { flex: 1; } header p { margin: .15rem 0; } figure { margin: 0; width: 9rem;
  text-align: center; font-size: .75rem; color: var(--quiet); } figure svg { width: 100%; }
td.tick { width: 2.2rem; } .box { display: inline-block; width: 1.15rem; height: 1.15rem;
  border: 2px solid var(--ink); text-align: center; line-height: 1.1rem; font-weight: bold; }
.large { font-size: 1.3rem; font-weight: bold; } footer, .quiet { font-size: .82rem; }
footer { color: var(--quiet); margin-top: 2rem; } pre { white-space: pre-wrap;
  overflow-wrap: anywhere; } td { overflow-wrap: break-word; }
  th { white-space: nowrap; }
@media print { :root { color-scheme: light; --ink: #000; --paper: #fff; --line: #999; --oak: #000;
  --quiet: #444; --wash: #fff; } body { max-width: none; padding: 0; font-size: 10pt; }
  article { break-after: page; margin: 0; } article:last-child { break-after: auto; }
  tr, li, pre { break-inside: avoid; } h2 { margin-top: 1rem; } }
"""
)
_HASH = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
PRINTED_HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": f"default-src 'none'; style-src 'sha256-{_HASH}'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
}


def printed_page(documents: tuple[Document, ...]) -> bytes:
    """Write documents, each of which prints on paper of its own."""
    title = documents[0].title if documents else "Nothing to print"
    body = "\n".join(_article(document) for document in documents)
    return page_of(title, body, _STYLE)


def _article(document: Document) -> str:
    lead = "".join(f"<p>{escape(line)}</p>" for line in document.lead)
    code = ""
    if document.code is not None:
        drawn = qr.svg(document.code.content, document.code.says)
        code = f"<figure>{drawn}<figcaption>{escape(document.code.says)}</figcaption></figure>"
    blocks = "\n".join(_block(block) for block in document.blocks)
    return (
        f"<article>\n<header><div><h1>{escape(document.title)}</h1>{lead}</div>{code}</header>\n"
        f"{blocks}\n<footer>{escape(document.foot)}</footer>\n</article>"
    )


def _block(block: Block) -> str:
    match block:
        case Heading():
            return f"<h2>{escape(block.text)}</h2>"
        case Paragraph():
            if block.typed:
                return f"<pre>{escape(block.text)}</pre>"
            kind = ' class="large"' if block.large else ' class="quiet"' if block.quiet else ""
            return f"<p{kind}>{escape(block.text)}</p>"
        case Listed():
            return "<ul>" + "".join(f"<li>{escape(item)}</li>" for item in block.items) + "</ul>"
        case Table():
            return _table(block)


def _table(table: Table) -> str:
    headings = "".join(f'<th scope="col">{escape(word)}</th>' for word in table.headings)
    ticked = table.ticked or (False,) * len(table.rows)
    rows = []
    for done, row in zip(ticked, table.rows, strict=True):
        cells = "".join(f"<td>{_lines(cell)}</td>" for cell in row)
        rows.append(f"<tr>{_tick(done) if table.ticks else ''}{cells}</tr>")
    widths = [round(94 * share / sum(table.shares)) for share in table.shares]
    columns = "".join(f'<col width="{width}%">' for width in widths)
    if table.ticks:
        headings = f'<th scope="col">done</th>{headings}'
        columns = f'<col width="6%">{columns}'
    head = f"<thead><tr>{headings}</tr></thead>" if any(table.headings) else ""
    body = f"<colgroup>{columns}</colgroup>{head}<tbody>{''.join(rows)}</tbody>"
    return f'<div class="wide"><table>{body}</table></div>'


def _lines(text: str) -> str:
    return "<br>".join(escape(line) for line in text.split("\n"))


def _tick(done: bool) -> str:
    says, mark = ("done before", "✓") if done else ("to do", "")
    return f'<td class="tick"><span class="box" role="img" aria-label="{says}">{mark}</span></td>'
