"""A page for a browser: one file that loads nothing, runs nothing and refers to nothing outside itself.

It reads on a telephone, in the dark, and printed.
"""

from __future__ import annotations

from collections.abc import Iterable

from log.exports.document import Block
from log.exports.html import for_page, text
from log.exports.svg import COLOURS

POLICY = "default-src 'none'; style-src 'unsafe-inline'"
_DARK = {
    "ink": "#eeeeee",
    "soft": "#a8a8a8",
    "faint": "#3a3a3a",
    "limit": "#ff9a9a",
    "first": "#7cc4ff",
    "second": "#ffb86b",
    "third": "#b5e07a",
    "paper": "#161616",
}


def web_page(title: str, blocks: Iterable[Block], look: str = "") -> str:
    """The page, as text to be written in UTF-8. `look`: "timeline" for a table whose columns have their widths,
    "registry" for tables of figures."""
    return "\n".join(
        (
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{text(title)}</title>",
            f"<style>{_STYLE}</style>",
            "</head>",
            "<body>",
            f'<main class="{look}">' if look else "<main>",
            for_page(blocks),
            "</main>",
            "</body>",
            "</html>",
            "",
        )
    )


def _variables(colours: Iterable[tuple[str, str]]) -> str:
    return "".join(f"--{name}:{colour};" for name, colour in colours)


_TONES = "".join(
    f".line.{name},.shape.{name}{{stroke:var(--{name})}}text.{name},.{name}-inside{{fill:var(--{name})}}"
    for name in COLOURS
)
_STYLE = f"""
:root{{color-scheme:light dark;{_variables(COLOURS.items())}}}
@media screen and (prefers-color-scheme:dark){{:root{{{_variables(_DARK.items())}}}}}
{_TONES}
body{{font:1rem/1.45 system-ui,sans-serif;color:var(--ink);background:var(--paper);max-width:62rem;margin:0 auto;
padding:0 .75rem;overflow-wrap:anywhere}}
h1{{font-size:1.4rem}}h2{{font-size:1.15rem;margin-top:2rem}}
.caution{{border:2px solid var(--limit);padding:.25rem .75rem;margin:1rem 0}}.caution p{{margin:.3rem 0}}
.simulation{{border:4px double var(--limit);padding:.4rem .75rem;font-size:1.2rem}}
.wide{{overflow-x:auto}}.wide svg{{display:block;width:100%;min-width:40rem;height:auto}}
table{{border-collapse:collapse;width:100%}}
th,td{{text-align:left;vertical-align:top;padding:.35rem .4rem;border-bottom:1px solid var(--soft);font-weight:normal}}
thead th{{font-weight:bold}}tbody th{{font-weight:bold}}.timeline thead th:first-child{{width:2.7rem}}
td{{font-variant-numeric:tabular-nums}}
.timeline td:nth-child(2){{width:9.5rem}}.timeline td:nth-child(4){{width:6rem}}
.registry th,.registry td{{overflow-wrap:normal}}
td p{{margin:0}}ul{{margin:.25rem 0 0;padding-left:1.1rem}}
li.note{{color:var(--soft);font-size:.9rem}}small{{color:var(--soft)}}
.high,.medium,.low,.information{{list-style:none;border-left:.3rem solid var(--soft);padding-left:.5rem;
margin:.3rem 0 0 -1rem}}
.high{{border-left:.5rem double var(--limit)}}.medium{{border-left-color:var(--second)}}
.other{{background:color-mix(in srgb,var(--faint) 45%,transparent)}}
.heard-only{{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}}
@media (max-width:36rem){{body{{font-size:.9rem}}th,td{{padding:.3rem .2rem}}
.timeline td:nth-child(2){{width:6rem;font-size:.72rem}}.timeline td:nth-child(4){{width:4.4rem}}
.registry table{{display:block;overflow-x:auto}}}}
@media print{{body{{max-width:none;font-size:9pt}}tr,.wide{{break-inside:avoid}}h2{{break-after:avoid}}
thead{{display:table-header-group}}.wide svg{{min-width:0}}}}
"""
