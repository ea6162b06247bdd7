// The style sheet of the HTML report: screen, dark screen, print.
#pragma once

namespace switchwright {

inline constexpr const char* html_style = R"css(
:root { color-scheme: light dark; --ink: #18212b; --muted: #566270; --paper: #ffffff; --soft: #f4f7f9; --line: #d5dde4;
  --pass: #1b6e3c; --pass-soft: #e6f3ea; --fail: #a51d12; --fail-soft: #fbe3df; --undecided: #7d5200;
  --undecided-soft: #fbf0d5; --unfinished: #3d4c5c; --unfinished-soft: #e8edf2; }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 16px/1.5 system-ui, "Segoe UI", "DejaVu Sans",
  Helvetica, Arial, sans-serif; }
main, header, footer { max-width: 1064px; margin: 0 auto; padding: 0 24px; }
.simulated { margin: 0; padding: 10px 24px; text-align: center; font-weight: 700; color: var(--ink);
  background: repeating-linear-gradient(-45deg, #ffe08a, #ffe08a 14px, #fff3c9 14px, #fff3c9 28px); color: #18212b;
  border-bottom: 2px solid #18212b; }
.verdict { display: flex; align-items: center; margin: 28px 0 8px; padding: 22px 26px; border-radius: 12px;
  border: 3px solid; }
.verdict svg { flex: none; width: 76px; height: 76px; margin-right: 24px; }
.verdict h1 { margin: 0; font-size: 40px; line-height: 1.1; letter-spacing: .01em; text-transform: uppercase; }
.verdict p { margin: 6px 0 0; font-size: 19px; color: var(--ink); }
.verdict.pass { color: var(--pass); border-color: var(--pass); background: var(--pass-soft); }
.verdict.fail { color: var(--fail); border-color: var(--fail); background: var(--fail-soft); }
.verdict.undecided { color: var(--undecided); border-color: var(--undecided); border-style: dashed;
  background: var(--undecided-soft); }
.verdict.learned { color: var(--unfinished); border-color: var(--unfinished); background: var(--unfinished-soft); }
.verdict.unfinished { color: var(--unfinished); border-color: var(--unfinished); border-style: dotted;
  background: var(--unfinished-soft); }
* { overflow-wrap: anywhere; }
.claim { margin: 10px 0 0; }
.signing { margin-top: 40px; }
.signing td { width: 50%; padding-top: 34px; border: 0; }
.signing i { display: block; border-top: 1px solid var(--ink); padding-top: 4px; margin-right: 24px; font-style: normal; }
ul.compact li { margin: 3px 0; }
.about { margin: 14px 2px 0; color: var(--muted); font-size: 15px; }
.about > span { display: inline-block; margin: 0 26px 4px 0; }
.about b { color: var(--ink); font-weight: 600; }
h2 { margin: 44px 0 12px; font-size: 22px; line-height: 1.25; }
h2 + p.lead { margin-top: -6px; color: var(--muted); }
ul.deviations { list-style: none; margin: 0; padding: 0; }
ul.deviations li { margin-bottom: 12px; border: 1px solid var(--line); border-left: 8px solid var(--fail); border-radius: 8px;
  padding: 12px 18px; background: var(--soft); }
ul.deviations li.not-sound { border-left: 8px double var(--undecided); }
ul.deviations .severity { font-size: 13px; font-weight: 700; letter-spacing: .08em; text-transform: uppercase;
  color: var(--fail); }
ul.deviations .not-sound .severity { color: var(--undecided); }
ul.deviations .sentence { margin: 2px 0 4px; font-size: 18px; font-weight: 600; }
ul.deviations .numbers { margin: 0; color: var(--muted); }
ul.deviations .numbers b { color: var(--ink); font-weight: 600; }
ol.explanations { margin: 0; padding-left: 1.4em; }
ol.explanations li { margin-bottom: 14px; break-inside: avoid; }
ol.explanations p { margin: 4px 0; }
ol.explanations .sentence { font-weight: 600; }
ol.explanations .share { display: inline-block; min-width: 5.2em; font-variant-numeric: tabular-nums; }
ol.explanations .numbers { color: var(--muted); }
ol.explanations code { font-weight: 400; color: var(--muted); }
.bar { height: 6px; border-radius: 3px; background: var(--line); max-width: 480px; overflow: hidden; }
.bar i { display: block; height: 100%; background: var(--ink); print-color-adjust: exact;
  -webkit-print-color-adjust: exact; }
.next { font-weight: 600; }
.fine { color: var(--pass); font-weight: 600; }
.picture { overflow-x: auto; margin: 0; padding: 4px 0; }
.picture svg { display: block; width: 100%; min-width: 760px; height: auto; }
.table { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-size: 14.5px; font-variant-numeric: tabular-nums; }
caption { text-align: left; color: var(--muted); padding-bottom: 6px; }
th, td { text-align: left; vertical-align: top; padding: 6px 12px 6px 0; border-bottom: 1px solid var(--line); }
th { font-weight: 600; }
tbody th { white-space: nowrap; }
thead th { border-bottom: 2px solid var(--ink); white-space: nowrap; }
td.number, td.limit, td.judged { white-space: nowrap; }
tr.fail td.judged, tr.fail th { color: var(--fail); font-weight: 700; }
tr.undecided td.judged { color: var(--undecided); font-weight: 700; }
tr.not-sound td.judged { color: var(--undecided); font-weight: 700; }
table.facts th { width: 250px; color: var(--muted); font-weight: 500; }
.missing { font-style: italic; border-bottom: 2px dotted var(--undecided); }
.cautions { border: 2px solid var(--ink); border-radius: 10px; padding: 4px 24px 8px; margin-top: 44px; }
.cautions h2 { margin-top: 16px; }
.cautions li, .remarks li { margin: 6px 0; }
code, pre { font-family: ui-monospace, "DejaVu Sans Mono", Menlo, Consolas, monospace; font-size: 13.5px; }
.head { overflow-wrap: anywhere; font-size: 15px; }
pre { overflow-x: auto; background: var(--soft); border: 1px solid var(--line); border-radius: 8px; padding: 12px 16px; }
details summary { cursor: pointer; font-weight: 600; }
details { margin: 10px 0; }
a { color: inherit; }
footer { margin-top: 44px; padding-bottom: 40px; color: var(--muted); font-size: 14px; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #e8edf2; --muted: #a7b3bf; --paper: #12171d; --soft: #1b222a; --line: #343f4a; --pass: #7ddc9c;
    --pass-soft: #12281a; --fail: #ff9a8d; --fail-soft: #371310; --undecided: #f2c66d; --undecided-soft: #2d2310;
    --unfinished: #b9c6d2; --unfinished-soft: #1f2831; }
  /* the pen's dark_repaint comes after this */
}
@media print {
  @page { size: A4; margin: 14mm 12mm 16mm; @bottom-right { content: "page " counter(page) " of " counter(pages);
    font-size: 8pt; color: #566270; } }
  body { font-size: 10.5pt; }
  main, header, footer { max-width: none; padding: 0; }
  .verdict { margin-top: 0; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
  .simulated, ul.deviations li, svg { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
  .picture, .table { overflow: visible; }
  .picture svg { min-width: 0; max-height: 225mm; }
  table { font-size: 8.5pt; }
  th, td { padding: 3px 8px 3px 0; line-height: 1.3; }
  table.facts th { width: 48mm; }
  h2 { break-after: avoid; font-size: 14pt; margin-top: 8mm; }
  h2 + p.lead { break-after: avoid; }
  .verdict h1 { font-size: 26pt; }
  .verdict p { font-size: 12.5pt; }
  ul.deviations .sentence { font-size: 11pt; }
  ul.deviations li { padding: 6px 12px; margin-bottom: 6px; }
  ul.deviations li, tr, .cautions, .verdict { break-inside: avoid; }
  thead { display: table-header-group; }
  pre { white-space: pre-wrap; font-size: 8pt; }
}
)css";

/// For paper, by a typesetter that knows neither variables nor grids: plain colours, small type, few rules.
inline constexpr const char* paper_style = R"css(
* { box-sizing: border-box; overflow-wrap: anywhere; }
body { margin: 0; color: #18212b; font: 8.6pt/1.32 "DejaVu Sans", Helvetica, Arial, sans-serif; }
header, main, footer { margin: 0; padding: 0; }
.simulated { margin: 0 0 2mm; padding: 1.4mm 3mm; text-align: center; font-weight: 700; background: #ffe08a; border: 0.3mm solid #18212b; }
.verdict { padding: 2.4mm 4mm; border: 0.7mm solid; border-radius: 2mm; margin: 0 0 2.4mm; break-inside: avoid; }
.verdict .shape { float: left; width: 16mm; } .verdict .shape svg { display: block; width: 12mm; height: 12mm; }
.verdict h1 { margin: 0; font-size: 17pt; line-height: 1.1; text-transform: uppercase; }
.verdict p { margin: 1mm 0 0; font-size: 9.6pt; color: #18212b; }
.verdict > div { min-height: 12mm; }
.verdict.pass { color: #1b6e3c; background: #e6f3ea; }
.verdict.fail { color: #a51d12; background: #fbe3df; }
.verdict.undecided { color: #7d5200; background: #fbf0d5; border-style: dashed; }
.verdict.unfinished, .verdict.learned { color: #3d4c5c; background: #e8edf2; }
h2 { margin: 3.6mm 0 1mm; font-size: 11pt; line-height: 1.2; break-after: avoid; }
h1.part { font-size: 14pt; margin: 0 0 2mm; break-before: page; }
p { margin: 1mm 0; }
.lead { color: #566270; margin: 0 0 1mm; break-after: avoid; }
ul { margin: 1mm 0; padding-left: 4.5mm; } ol { margin: 1mm 0; padding-left: 5mm; } li { margin: 0.6mm 0; }
ul.deviations { list-style: none; padding: 0; }
ul.deviations li { margin: 0 0 1.3mm; border: 0.2mm solid #d5dde4; border-left: 1.6mm solid #a51d12; padding: 1mm 2.6mm;
  background: #f4f7f9; break-inside: avoid; }
ul.deviations li.not-sound { border-left-color: #7d5200; }
ul.deviations .severity { font-size: 6.8pt; font-weight: 700; text-transform: uppercase; color: #a51d12; }
ul.deviations .not-sound .severity { color: #7d5200; }
ul.deviations .sentence { margin: 0; font-weight: 700; }
ul.deviations .numbers { margin: 0.4mm 0 0; color: #566270; } ul.deviations .numbers b { color: #18212b; }
ol.explanations li { break-inside: avoid; margin: 0 0 1.4mm; } ol.explanations p { margin: 0.4mm 0; }
ol.explanations .sentence, .next { font-weight: 700; } ol.explanations code { color: #566270; font-weight: 400; }
.numbers { color: #566270; }
.bar { height: 1.2mm; background: #d5dde4; width: 90mm; } .bar i { display: block; height: 1.2mm; background: #18212b; }
.fine { color: #1b6e3c; font-weight: 700; }
.picture { margin: 1mm 0; break-inside: avoid; text-align: center; }
.picture svg { display: block; width: 100%; height: auto; max-height: 90mm; }
.matrix svg { max-height: 104mm; } .axis svg { max-height: 132mm; }
td.number { white-space: nowrap; }
.schematic { text-align: center; break-inside: avoid; } .schematic svg { max-height: 62mm; max-width: 150mm; width: auto; }
.schematic p { color: #566270; margin: 0; }
table { border-collapse: collapse; width: 100%; font-size: 8pt; }
caption { text-align: left; color: #566270; padding-bottom: 0.6mm; }
th, td { text-align: left; vertical-align: top; padding: 0.5mm 2mm 0.5mm 0; border-bottom: 0.15mm solid #d5dde4; }
th { font-weight: 700; } thead th { border-bottom: 0.4mm solid #18212b; }
tr { break-inside: avoid; } thead { display: table-header-group; }
table.pairs { table-layout: fixed; } table.pairs th { width: 15%; color: #566270; font-weight: 400; } table.pairs td { width: 35%; }
table.facts th { width: 30mm; color: #566270; font-weight: 400; } table.facts td.judged { width: 20mm; }
table.halves > tbody > tr > td { padding: 0; border: 0; } table.halves tr { break-inside: auto; }
table.inspection th:nth-child(2) { width: 24mm; } table.inspection th:nth-child(3) { width: 18mm; }
table.inspection th:nth-child(1) { width: 44%; }
table.events td:nth-child(1) { width: 32mm; } table.events td:nth-child(2) { width: 34mm; }
td.half { width: 50%; } td.half + td.half { padding-left: 3mm; }
table.dense { font-size: 6.3pt; line-height: 1.15; } table.dense th, table.dense td { padding: 0.26mm 1mm 0.26mm 0; white-space: nowrap; }
tr.fail td.judged, tr.fail th { color: #a51d12; font-weight: 700; }
tr.undecided td.judged, tr.not-sound td.judged { color: #7d5200; font-weight: 700; }
.missing { font-style: italic; }
.cautions { border: 0.4mm solid #18212b; border-radius: 1.5mm; padding: 0.6mm 3mm; margin-top: 3mm; break-inside: avoid; font-size: 7.8pt; }
.cautions h2 { margin: 1mm 0 0.4mm; }
code { font-family: "DejaVu Sans Mono", monospace; font-size: 7.2pt; }
.signing { margin-top: 3mm; break-inside: avoid; } .signing td { width: 50%; border: 0; padding-top: 11mm; }
.signing i { display: block; border-top: 0.3mm solid #18212b; margin-right: 6mm; padding-top: 0.6mm; font-style: normal; }
footer { color: #566270; font-size: 7.4pt; margin-top: 2mm; }
)css";

}  // namespace switchwright
