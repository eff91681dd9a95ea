"""How does a page look? Paper and ink, one column, daylight and dark."""

from __future__ import annotations

from ullage.drawing.theme import DARK, DAYLIGHT, SANS, SERIF, Scheme

_LAPTOP_FROM = "760px"


def _variables(scheme: Scheme) -> str:
    """Return the colours of a scheme under the names that the rules use."""
    return (
        f"--paper:{scheme.paper};--ink:{scheme.ink};--grey:{scheme.grey};"
        f"--hairline:{scheme.hairline};--wash:{scheme.wash}"
    )


STYLE = f"""
:root{{color-scheme:light dark;{_variables(DAYLIGHT)}}}
@media (prefers-color-scheme:dark){{:root{{{_variables(DARK)}}}}}
*{{box-sizing:border-box}}
html{{-webkit-text-size-adjust:100%}}
body{{margin:0;background:var(--paper);color:var(--ink);font:17px/1.55 {SANS};
font-variant-numeric:tabular-nums}}
main{{max-width:940px;margin:0 auto;padding:24px 16px 64px}}
h1,h2,h3{{font-family:{SERIF};line-height:1.2;text-wrap:balance}}
h1{{font-size:1.75rem;margin:0 0 8px}}
h2{{font-size:1.35rem;margin:56px 0 10px;padding-top:14px;border-top:1px solid var(--hairline)}}
h3{{font-size:1.05rem;margin:24px 0 6px}}
p,li{{max-width:66ch;margin:0 0 10px}}
ol,ul{{padding-left:1.5em;margin:0 0 14px}}
.lead{{font:italic 1.25rem/1.4 {SERIF};margin-bottom:14px}}
.note{{color:var(--grey);font-size:.92rem}}
li .note{{margin:2px 0 0}}
figure{{margin:18px 0 26px}}
figure svg{{display:block;width:100%;height:auto}}
@media (min-width:1180px){{figure{{margin-inline:-90px}}}}
.phone{{max-width:460px;margin:0 auto}}
.laptop{{display:none}}
@media (min-width:{_LAPTOP_FROM}){{.laptop{{display:block}}.phone{{display:none}}}}
.scrolls{{overflow-x:auto;margin:0 0 18px}}
table{{border-collapse:collapse;font-size:.95rem}}
caption{{text-align:left;color:var(--grey);padding-bottom:6px}}
th,td{{text-align:right;padding:6px 0 6px 18px;border-bottom:1px solid var(--hairline);
font-weight:400;vertical-align:bottom}}
thead th{{color:var(--grey)}}
th:first-child{{text-align:left;padding-left:0}}
tbody th{{min-width:9.5em}}
td{{white-space:nowrap}}
summary{{cursor:pointer;padding:10px 0;min-height:44px}}
a{{color:inherit}}
code{{background:var(--wash);padding:1px 5px;border-radius:3px;overflow-wrap:anywhere}}
:focus-visible{{outline:3px solid var(--ink);outline-offset:3px}}
@media print{{details>*{{display:block}}h2{{break-after:avoid}}figure{{break-inside:avoid}}}}
"""
