"""The style of printed sheets on a screen; the PDF template follows the same ideas."""

from __future__ import annotations

from typing import Final

STYLE: Final = """
:root { --ink: #1d2733; --soft: #5c6b7a; --faint: #c9d1d8; --accent: #b4451f; }
* { box-sizing: border-box; }
body { margin: 0; color: var(--ink); background: #fff;
  font: 15px/1.45 Georgia, 'Times New Roman', 'Liberation Serif', serif; }
main, footer { max-width: 52rem; margin: 0 auto; padding: 1rem; }
.landscape main, .landscape footer { max-width: 74rem; }
h1 { font-size: 1.65rem; line-height: 1.2; margin: 0.4rem 0 0; }
h2 { font-size: 1.2rem; margin: 1.6rem 0 0.5rem; }
h3 { font-size: 1rem; margin: 1.1rem 0 0.3rem; }
p { margin: 0.4rem 0; }
.soft, small, dt, th { color: var(--soft); }
.strong { font-weight: 700; }
.large { font-size: 1.2rem; }
.fails { color: var(--accent); font-weight: 700; }
.caution { border-left: 3px solid var(--accent); padding: 0.2rem 0 0.2rem 0.8rem;
  margin: 0.9rem 0; }
.caution strong { color: var(--accent); }
dl { display: grid; grid-template-columns: minmax(8rem, auto) 1fr; gap: 0.25rem 1.2rem;
  margin: 0.6rem 0; }
dd { margin: 0; }
ul, ol { padding-left: 1.3rem; margin: 0.4rem 0; }
li { margin: 0.2rem 0; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-size: 0.93rem; }
th { font-weight: 400; text-align: left; vertical-align: bottom; padding: 0.2rem 0.4rem;
  border-bottom: 1px solid var(--ink); }
td { padding: 0.28rem 0.4rem; border-bottom: 1px solid var(--faint); vertical-align: top; }
tfoot td { font-weight: 700; border-top: 1px solid var(--ink); }
.right { text-align: right; } .center { text-align: center; }
.code { font-family: ui-monospace, 'Liberation Mono', monospace; font-size: 0.85em; }
.check { border-bottom: 1px solid var(--faint); padding: 0.5rem 0; }
.check header { display: flex; flex-wrap: wrap; gap: 0.2rem 0.6rem; align-items: baseline; }
.numbers { margin-left: auto; font-size: 0.9rem; }
.bar { width: 5.5rem; height: 0.5rem; border: 1px solid var(--soft); display: inline-block; }
.bar i { display: block; height: 100%; background: var(--soft); }
.bar.fails i { background: var(--accent); }
.ratio { font-weight: 700; min-width: 3.4rem; text-align: right; }
.line { display: grid; grid-template-columns: 9rem 1fr 11rem; gap: 0.8rem; padding: 0.15rem 0;
  font-size: 0.86rem; }
.line span:last-child { text-align: right; }
.line small { display: block; }
figure { margin: 0.8rem 0; text-align: center; }
img { max-width: 100%; height: auto; }
.matrix th:first-child { text-align: left; border-bottom-color: var(--faint); color: var(--ink); }
.matrix td, .matrix thead th { text-align: center; }
.matrix thead th { color: var(--accent); font-weight: 700; font-size: 1.05rem; }
.box { display: inline-block; width: 0.9rem; height: 0.9rem; border: 1px solid var(--ink); }
.fill { display: inline-block; width: 100%; min-width: 3.2rem; height: 1.1rem;
  border-bottom: 1px solid var(--soft); }
.blank { margin-top: 1.2rem; break-inside: avoid; }
.rule { border-bottom: 1px solid var(--faint); height: 1.6rem; }
.tickets { display: grid; gap: 0.8rem;
  grid-template-columns: repeat(auto-fill, minmax(18rem, 1fr)); }
.form td { height: 2.2rem; }
.tickets article { border: 1px dashed var(--soft); padding: 0.7rem; display: grid;
  grid-template-columns: 1fr 7rem; gap: 0.6rem; break-inside: avoid; }
.tickets h3 { font-size: 1.5rem; margin: 0; } .tickets p { margin: 0.1rem 0; }
.tickets figure { margin: 0; } .tickets small { display: block; text-align: center; }
footer { color: var(--soft); font-size: 0.85rem; border-top: 1px solid var(--faint); }
@media (max-width: 560px) {
  .line { grid-template-columns: 1fr; gap: 0; padding: 0.35rem 0;
    border-top: 1px dotted var(--faint); }
  .line span:last-child { text-align: left; }
  .numbers { margin-left: 0; width: 100%; }
  dl { grid-template-columns: 6rem 1fr; gap: 0.3rem 0.6rem; }
  .matrix th:first-child { min-width: 8.5rem; }
}
@media print {
  @page { size: A4; margin: 16mm; }
  body { font-size: 10pt; } main, footer { max-width: none; padding: 0; }
  .new-page { break-before: page; } h2, h3, .check header { break-after: avoid; }
}
""".strip()
