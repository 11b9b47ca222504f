"""What the page looks like: on a desk, on a phone, on two sheets of paper."""

from __future__ import annotations

import html

STYLE = """
:root { --ink: #1d2320; --soft: #59635d; --line: #d5dbd6; --leaf: #2c6b4a; --warn: #a5480b; }
* { box-sizing: border-box; }
body { margin: 0; background: #f4f6f3; color: var(--ink);
       font: 16px/1.45 system-ui, "Segoe UI", Roboto, "DejaVu Sans", sans-serif; }
main { max-width: 54rem; margin: 0 auto; padding: 1.5rem 2rem 3rem; background: #fff; }
h1 { margin: 0; font-size: 1.7rem; line-height: 1.2; }
h2 { margin: 2rem 0 .5rem; padding-top: .6rem; border-top: 2px solid var(--leaf);
     font-size: 1.2rem; color: var(--leaf); }
h3 { margin: 1rem 0 .3rem; font-size: 1rem; }
p { margin: .4rem 0; }
.under { color: var(--soft); }
.finding { font-size: 1.1rem; font-weight: 600; }
.verdict { padding: .1em .6em; border: 1px solid; border-radius: 1em; color: var(--leaf);
           white-space: nowrap; }
.verdict.behind, .verdict.ahead, .warning { color: var(--warn); }
.small { font-size: .85rem; color: var(--soft); }
small { font-size: .88em; color: var(--soft); }
.whole { white-space: nowrap; }
[data-of] { unicode-bidi: isolate; }
ul { margin: .3rem 0; padding-left: 1.2rem; }
li { margin: .15rem 0; }
li::first-letter { text-transform: uppercase; }
table { width: 100%; margin: .6rem 0; border-collapse: collapse; font-size: .92rem;
        font-variant-numeric: tabular-nums; }
th, td { padding: .25rem 1rem .25rem 0; text-align: left; vertical-align: top;
         border-bottom: 1px solid var(--line); }
th { color: var(--soft); font-weight: 600; font-size: .82rem; }
.number { text-align: right; }
th:last-child, td:last-child { padding-right: 0; }
img { display: block; width: 100%; max-width: 46rem; height: auto; margin: .6rem auto; }
.anchor-link, .jp-Cell-inputWrapper, .jp-OutputPrompt { display: none; }
@media (max-width: 40rem) {
  main { padding: 1rem; }
  h1 { font-size: 1.4rem; }
  table { font-size: .88rem; }
  td small { display: block; }
  .wide thead { display: none; }
  .wide tr { display: block; padding: .4rem 0; border-bottom: 1px solid var(--line); }
  .wide td { display: flex; justify-content: space-between; gap: 1rem; padding: .1rem 0;
             border: 0; text-align: right; }
  .wide td::before { content: attr(data-column); color: var(--soft); text-align: left; }
  .wide td:first-child { font-weight: 600; }
  .wide td small { font-weight: 400; }
  .wide td:empty { display: none; }
}
@media print {
  @page { size: A4; margin: 10mm 13mm; }
  body { background: none; font-size: 8.2pt; line-height: 1.25; }
  main { max-width: none; padding: 0; }
  h1 { font-size: 15pt; }
  h2 { margin: 1.6mm 0 .5mm; padding-top: .8mm; font-size: 10.5pt; break-after: avoid; }
  h3 { margin: 1.2mm 0 .5mm; font-size: 9pt; break-after: avoid; }
  p, ul { margin: .6mm 0; }
  li { margin: .2mm 0; }
  .finding { font-size: 9.6pt; }
  .small { font-size: 7.2pt; }
  table { margin: 1mm 0; font-size: 8.2pt; }
  th, td { padding: .35mm 2mm .35mm 0; }
  th { font-size: 7.6pt; }
  td br { display: none; }
  td br + small { margin-left: 1em; }
  img { max-height: 50mm; width: auto; max-width: 100%; margin: .5mm auto; }
  h2 { clear: both; }
  .beside { float: left; width: 44%; margin-right: 3%; }
  .cell:has(.beside) + .cell img { max-width: 52%; }
  .part > p { break-after: avoid; }
  tr, img, table { break-inside: avoid; }
}
"""


MADE_BY = '<meta name="generator" content="antgrowth">'


def is_page(raw: bytes) -> bool:
    """Whether a file is a page of this package, which may be replaced."""
    return MADE_BY.encode() in raw or b"<span data-of=" in raw  # the latter by earlier versions


def styled(title: str, content: str) -> str:
    """Make one page of its own of what a notebook shows; it loads nothing from elsewhere."""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"{MADE_BY}\n"
        f"<title>{html.escape(title)}</title>\n<style>{STYLE}</style>\n</head>\n"
        f"<body>\n<main>\n{content}\n</main>\n</body>\n</html>\n"
    )
