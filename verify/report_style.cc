#include "verify/report_parts.h"

namespace aircut::verify {

// One ink, one alarm colour, paper, hairlines. No fonts are loaded: the page
// names serif faces with lining figures that are commonly installed.
const char* PageStyle() {
  return R"(
:root{--ink:#1d2430;--paper:#fbfaf6;--rule:#d8d4c8;--soft:#626777;--alarm:#a3341c}
*{box-sizing:border-box}
body{margin:0;background:#ece8dd;color:var(--ink);font:15px/1.45 "Source Serif 4","Noto Serif",Georgia,"Liberation Serif",serif;font-variant-numeric:tabular-nums lining-nums}
main{max-width:1060px;margin:24px auto;background:var(--paper);padding:40px 48px 56px;border:1px solid var(--rule)}
.kick{display:flex;justify-content:space-between;gap:24px;color:var(--soft);font-size:13.5px;margin:0}
h1{font-size:33px;line-height:1.16;margin:.35em 0 .35em;font-weight:600;max-width:23em;text-wrap:balance}
h2{font-size:19px;font-weight:600;margin:2.1em 0 .5em;border-bottom:1px solid var(--ink);padding-bottom:3px}
h3{font-size:15px;font-weight:600;margin:1.4em 0 .3em}
p{margin:.5em 0}
.sh{vertical-align:-1px;margin-right:5px}h1 .sh{vertical-align:-2px;margin-right:10px}
.sh .alarm,.alarm{fill:var(--alarm)}.sh .ink{fill:var(--ink)}.sh .line{fill:none;stroke:var(--ink);stroke-width:1.7}
.mend{font-size:18px;border-left:6px solid var(--alarm);padding:.2em 0 .2em .8em;margin:.7em 0 1em;max-width:50em}
.reason{color:#3f4654;max-width:62em;margin:.6em 0 1.2em}
.facts{display:grid;grid-template-columns:1.25fr 1fr 1fr 1fr;border-top:1px solid var(--rule);border-bottom:1px solid var(--rule);margin:1.1em 0 0}
.facts div{padding:9px 14px 9px 0}.facts b{display:block;font-size:20px;font-weight:600}.facts span{font-size:13px;line-height:1.3;color:var(--soft);display:block}
figure{margin:0}figcaption,.note{font-size:13.5px;color:#4b5160;max-width:66em}
figcaption{margin-top:7px}figure svg,.strip{display:block;width:100%;height:auto}
svg text{font-family:"Source Serif 4","Noto Serif",Georgia,"Liberation Serif",serif;fill:var(--ink)}
svg .hair{fill:none;stroke:var(--rule)}svg .pen{fill:none;stroke:var(--ink)}svg .soft{fill:var(--soft)}svg .white{fill:#fff;font-weight:700}
table{border-collapse:collapse;width:100%;font-size:14px}
td,th{padding:5px 14px 5px 0;border-bottom:1px solid var(--rule);text-align:left;vertical-align:top}
td:last-child,th:last-child{padding-right:0}
th{font-weight:400;color:var(--soft);font-size:13px}
.nw{white-space:nowrap}tr.fail .w{font-weight:600}
.why{color:#4b5160;font-size:13.5px}td.why{width:42%}.tags{width:8em}.why b{color:var(--ink);font-weight:600}.tiny{font-size:12.5px;color:var(--soft)}
.bar{display:block;margin-top:5px}.bar .pen{stroke-width:1}.bar .in{fill:var(--ink)}
.tab{display:inline-block;background:var(--alarm);color:#fff;font:700 11px/1 "Liberation Sans",Arial,sans-serif;padding:3px 6px;margin:1px 3px 1px 0}
.tab.q{background:#fff;color:var(--ink);outline:1px solid var(--ink);outline-offset:-1px}
a.tab{text-decoration:none}a:focus-visible,button:focus-visible,canvas:focus-visible,li:focus-visible{outline:3px solid var(--alarm);outline-offset:1px}
.found{list-style:none;margin:0;padding:0}
.found li{display:grid;grid-template-columns:44px 1fr 334px;padding:8px 0;border-bottom:1px solid var(--rule)}
.found p{margin:0}.found .why{margin-top:2px}.shot{text-align:right}.shot img{max-width:100%;height:auto;border:1px solid var(--rule)}
li.on{background:#f3eee0;box-shadow:-6px 0 0 #f3eee0,6px 0 0 #f3eee0}a.on{outline:3px solid var(--ink);outline-offset:1px}svg a.on rect{stroke:var(--ink);stroke-width:3}
.premises span{margin-right:22px;display:inline-block}.order{font-weight:600}
.pair{display:grid;grid-template-columns:1fr 1fr;gap:36px;align-items:start}
.chart .band{fill:#e4e0d4}.chart .within{fill:#6d727e}.chart .deep{fill:#8a5c0a}.chart .high{fill:#5b3a86}
.wide{display:block;width:100%;height:auto}
.keys{display:flex;gap:8px;align-items:center;flex-wrap:wrap;margin:8px 0}.keys button{font:inherit;font-size:14px;color:var(--ink);background:#fff;border:1px solid var(--ink);padding:3px 11px;cursor:pointer}
.told{font-size:13.5px;color:#4b5160;min-width:16em}.trace .name{font-size:13.5px;margin:.4em 0 0}.trace .sheet{width:100%;height:110px}
.solid canvas{display:block;width:100%;height:auto;border:1px solid var(--rule);touch-action:none;cursor:grab}.solid{margin-top:1em;min-height:160px}
.notices{margin-top:1.5em;font-size:12.5px;color:#4b5160}.notices pre{white-space:pre-wrap;overflow-wrap:anywhere;font:11.5px/1.4 "Noto Sans Mono","DejaVu Sans Mono",monospace}
@media screen{.strip.paper{display:none}}
.sign td{height:40px}.sign td:nth-child(3){width:31%;border-left:1px solid var(--rule)}.sign th:nth-child(3){padding-left:10px}.sign td:first-child{width:34%}
code{font:12.5px/1.4 "Noto Sans Mono","DejaVu Sans Mono","Liberation Mono",monospace;overflow-wrap:anywhere}
.end{margin-top:3em;border-top:1px solid var(--ink);padding-top:6px}
@page{size:A4;margin:11mm 12mm 12mm}
@media print{body{background:#fff;font-size:10.3pt}main{border:0;margin:0;padding:0;max-width:none;background:#fff}
h1{font-size:19pt}h2{break-after:avoid;font-size:13pt;margin-top:1.6em}h3{break-after:avoid}.mend{font-size:12.5pt}table{font-size:9.4pt}.why,figcaption,.note,th{font-size:9pt}
.facts b{font-size:14pt}figure,tr,li,.strip,.facts{break-inside:avoid}.screen,.charts,.solid{display:none}
p{margin:.3em 0}h1{margin:.2em 0}h2{margin:1.1em 0 .3em}h3{margin:.8em 0 .2em}td,th{padding:2px 8px 2px 0}table{font-size:8.4pt;line-height:1.25}
.why,figcaption,.note,th{font-size:8.2pt;line-height:1.25}td.why{width:auto}.checks{table-layout:fixed}.checks .nw{white-space:normal}
.checks td:nth-child(2){white-space:nowrap}.checks th:nth-child(1){width:8.5%}.checks th:nth-child(2){width:14%}.checks th:nth-child(3){width:9%}.checks th:nth-child(4){width:9.5%}.checks th:nth-child(5){width:9.5%}.checks th:nth-child(7){width:4.5%}.bar{max-width:100%}
.bar{margin-top:1px}.sign td{height:18px}.found{columns:2;column-gap:22px;font-size:8.2pt;line-height:1.22}.found li{grid-template-columns:24px 1fr 92px;padding:3px 0}.shot img{width:88px}
.found li:nth-child(n+7){grid-template-columns:24px 1fr}.found li:nth-child(n+7) .shot,.found li:nth-child(n+7) .why,.again{display:none}.checks,.checks .why{font-size:7.8pt;line-height:1.17}.checks td{padding-top:1px;padding-bottom:1px}.wide{max-height:38mm}
.wide{width:auto}figure svg{width:46%}.chart{width:64%}.strip{width:56%}.chart{max-height:27mm}.inputs code{font-size:6.6pt}thead{display:table-header-group}*{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
)";
}

}  // namespace aircut::verify
