#include "reports/page_style.hpp"

namespace mintspread::reports {

// Nickel blue is inside, copper outside, stipple what is not known; each is also told by hatching or words. Contrast of
// letters is at least 4.5 : 1 and of lines that carry meaning at least 3 : 1, on both grounds.
std::string_view page_style() {
  return R"css(
:root{color-scheme:light dark;--ground:#fdfdfb;--ink:#1a2126;--soft:#4a555d;--hair:#dde2e4;--axis:#69757d;
--in:#1f5c7c;--in-fill:#c6dae6;--out:#a03d0a;--unknown:#66666e;--plate:#fdfdfb;--s3:#4d7014;--s4:#6d4a94;
--l1:#dbe8f0;--l2:#a9c8da;--l3:#6fa1bd;--l4:#3d7796;--l5:#174a66}
@media (prefers-color-scheme:dark){:root{--ground:#14191d;--ink:#e7ebed;--soft:#b0bac1;--hair:#2f383e;--axis:#8c98a0;
--in:#86bddb;--in-fill:#25485d;--out:#f2996a;--unknown:#a6a6b0;--plate:#14191d;--s3:#a9c96b;--s4:#c3a5e6;
--l1:#1d3443;--l2:#2f5469;--l3:#497a94;--l4:#6fa6c3;--l5:#a5d2e9}}
*{box-sizing:border-box}
html{background:var(--ground);color:var(--ink);font:100%/1.5 Charter,"Bitstream Charter","Sitka Text",Cambria,"Liberation Serif",serif;
-webkit-text-size-adjust:100%}
body{margin:0 auto;max-width:46rem;padding:1.5rem 1rem 3rem;overflow-wrap:break-word}
h1{font-size:1.9rem;line-height:1.2;margin:0 0 .25rem;font-weight:600}
h2{font-size:1.3rem;line-height:1.3;margin:3rem 0 .5rem;padding-top:.6rem;border-top:3px solid var(--ink);font-weight:600}
h2.small{font-size:1.05rem;margin:1.75rem 0 .25rem;padding:0;border:0}
p,ul,ol{margin:.4rem 0}
ul,ol{padding-left:1.4rem}
li{margin:.2rem 0}
.soft,figcaption{color:var(--soft)}
a{color:var(--in)}
a:focus-visible,[tabindex]:focus-visible{outline:3px solid var(--in);outline-offset:2px}
.skip{position:absolute;left:-99rem}
.skip:focus{left:1rem;top:.5rem;background:var(--ground);padding:.5rem}
.verdicts{list-style:none;padding:0;margin:1.25rem 0}
.verdicts li{margin:0 0 1rem;padding-left:1rem;border-left:6px double var(--in)}
.verdicts li.less{border-left-color:var(--out)}
.verdicts strong{font-size:1.3rem;line-height:1.35;display:block;font-weight:600}
.marks{border:1px dashed var(--out);padding:.4rem .75rem;list-style:none}
nav ol{columns:2;column-gap:2rem;padding-left:2.2rem}
.line code{font-size:.82rem;overflow-wrap:anywhere}
figure{margin:1.75rem 0 0}
svg{display:block;width:100%;height:auto;overflow:visible}
.defs{position:absolute;width:0;height:0}
svg text{font:13.5px system-ui,"Liberation Sans",sans-serif;fill:var(--ink);paint-order:stroke;stroke:var(--ground);
stroke-width:4px;stroke-linejoin:round}
svg text.soft{fill:var(--soft)}
svg text.m{text-anchor:middle}
svg text.e{text-anchor:end}
svg path,svg line{fill:none}
.axis{stroke:var(--axis);stroke-width:1.2}
.hair{stroke:var(--hair);stroke-width:1}
.leader{stroke:var(--axis);stroke-width:1}
svg .in-fill{fill:var(--in-fill)}
svg .out-fill{fill:url(#h-out);stroke:var(--out);stroke-width:1}
.in-line{stroke:var(--in);stroke-width:1.6}
.alone{stroke:var(--ink);stroke-width:1.2;stroke-dasharray:5 3}
.bar{stroke:var(--in);stroke-width:2.5}
.bar.thick{stroke-width:7}
.median{stroke:var(--ink);stroke-width:2}
svg .nominal{fill:var(--ground);stroke:var(--ink);stroke-width:2}
.window{stroke:var(--ink);stroke-width:2}
.window.out{stroke:var(--out);stroke-width:2.6}
svg .unknown{fill:url(#h-unknown);stroke:var(--unknown);stroke-width:1}
.dots{stroke:var(--in);stroke-width:3.4;stroke-linecap:round}
.relation{stroke:var(--ink);stroke-width:1.6;stroke-dasharray:7 4}
.rejected{stroke:var(--out);stroke-width:2}
svg .rejected.beside{stroke:var(--unknown);fill:var(--ground)}
.whisker{stroke-width:2.4}
.whisker.in{stroke:var(--in)}
.whisker.out{stroke:var(--out)}
.whisker.doubt{stroke:var(--unknown);stroke-dasharray:5 3}
svg .dot.in{fill:var(--in)}
svg .dot.out{fill:var(--out)}
svg .dot.doubt{fill:var(--ground);stroke:var(--unknown);stroke-width:2}
.series{stroke-width:1.8}
.series1{--hue:var(--in);stroke:var(--in)}
.series2{--hue:var(--out);stroke:var(--out);stroke-dasharray:7 3}
.series3{--hue:var(--s3);stroke:var(--s3);stroke-dasharray:2 3}
.series4{--hue:var(--s4);stroke:var(--s4);stroke-dasharray:9 3 2 3}
.series5{--hue:var(--ink);stroke:var(--ink);stroke-dasharray:14 3}
.series6{--hue:var(--unknown);stroke:var(--unknown);stroke-dasharray:1 2}
.state1{stroke:color-mix(in srgb,var(--hue) 70%,var(--ground))}
.state2{stroke:color-mix(in srgb,var(--hue) 85%,var(--ground))}
.state3{stroke:color-mix(in srgb,var(--hue) 80%,var(--ink))}
.state4{stroke:color-mix(in srgb,var(--hue) 45%,var(--ink))}
.series.thick{stroke-width:6;stroke-dasharray:none}
svg .series.dot,svg .series.hollow{stroke-dasharray:none}
svg .series1.dot{fill:var(--in)}
svg .series2.dot{fill:var(--out)}
svg .series3.dot{fill:var(--s3)}
svg .series4.dot{fill:var(--s4)}
svg .series.hollow{fill:var(--ground)}
svg .spread{fill:var(--in-fill);fill-opacity:.6;stroke-width:1;stroke-dasharray:none}
.reach{stroke-width:2.4;stroke-dasharray:none}
svg .part{fill:var(--in)}
svg .over{fill:var(--ground);stroke:var(--unknown)}
.sign{stroke:var(--in);stroke-width:2.4}
svg .level{stroke:var(--ink);stroke-width:1}
svg .level1{fill:var(--l1)}
svg .level2{fill:var(--l2)}
svg .level3{fill:var(--l3)}
svg .level4{fill:var(--l4)}
svg .level5{fill:var(--l5)}
svg .plate{fill:var(--plate)}
svg .metal{stroke:var(--ink);stroke-width:1}
svg .metal1{fill:url(#h-1)}
svg .metal2{fill:url(#h-2)}
svg .metal3{fill:url(#h-3)}
svg .metal4{fill:url(#h-4)}
svg .metal5{fill:url(#h-5)}
svg .metal6{fill:url(#h-6)}
.h-out{stroke:var(--out);stroke-width:2.4}
.h-unknown{stroke:var(--unknown);stroke-width:1.6}
.h-1{stroke:var(--in);stroke-width:2.2}
.h-2{stroke:var(--out);stroke-width:2.2}
.h-3{stroke:var(--axis);stroke-width:1.2}
.h-4{stroke:var(--s3);stroke-width:1.6}
.h-5{stroke:var(--s4);stroke-width:1.6}
.h-6{stroke:var(--ink);stroke-width:1}
table{border-collapse:collapse;width:100%;margin:.75rem 0 0;font:.82rem/1.35 system-ui,"Liberation Sans",sans-serif;
font-variant-numeric:tabular-nums}
caption{text-align:left;font-weight:600;padding:.2rem 0}
th,td{text-align:right;vertical-align:top;padding:.14rem 0 .14rem .6rem;font-weight:400;border-bottom:1px solid var(--hair)}
th:first-child{text-align:left;padding-left:0}
thead th{color:var(--soft);border-bottom:1px solid var(--axis)}
tbody th.group{text-align:left;font-weight:600;padding-top:.7rem}
table.words th,table.words td{text-align:left}
tbody th{overflow-wrap:anywhere;min-width:5rem}
table.words td{overflow-wrap:anywhere;min-width:4rem}
table.words td:nth-child(2){width:46%}
@media (min-width:351px){table.words tbody th,.customer tbody th{overflow-wrap:break-word}}
data{white-space:nowrap}
@media (min-width:640px){body:not(.customer) table:not(.words) td{white-space:nowrap}}
.block{display:flex;flex-wrap:wrap;border:2px solid var(--ink);margin:1rem 0 0;
font:.82rem/1.4 system-ui,"Liberation Sans",sans-serif;overflow-wrap:anywhere}
.block div{flex:1 1 13rem;padding:.35rem .6rem;box-shadow:0 0 0 .5px var(--axis)}
.block dt{color:var(--soft)}
.block dd{margin:0}
@media (max-width:560px){body{padding-top:1rem}h1{font-size:1.5rem}.verdicts strong{font-size:1.12rem}nav ol{columns:1}
svg text{font-size:21px}table{font-size:.76rem}th,td{padding-left:.4rem}tbody th{min-width:3.5rem}
table.words{table-layout:fixed}.words th:nth-child(1){width:22%}.words th:nth-child(2){width:37%}.words th:nth-child(4){width:26%}}
@media (max-width:350px){body{padding-left:.6rem;padding-right:.6rem}table{font-size:.66rem}data{white-space:normal}th,td{padding-left:.25rem}}
@media (forced-colors:active){:root{--ground:Canvas;--ink:CanvasText;--soft:CanvasText;--hair:GrayText;--axis:CanvasText;--in:CanvasText;
--in-fill:Canvas;--out:CanvasText;--unknown:CanvasText;--plate:Canvas;--s3:CanvasText;--s4:CanvasText;--l1:Canvas;--l2:Canvas;--l3:Canvas;--l4:Canvas;--l5:Canvas}svg{forced-color-adjust:none;--hair:color-mix(in srgb,CanvasText 30%,Canvas)}
a{color:LinkText}.in-line{stroke-width:2}}
@media print{:root{color-scheme:light;--ground:#fff;--ink:#000;--soft:#333;--hair:#ccc;--axis:#555;--in:#1f5c7c;--in-fill:#c6dae6;
--out:#a03d0a;--unknown:#55555c;--plate:#fff;--s3:#4d7014;--s4:#6d4a94;--l1:#dbe8f0;--l2:#a9c8da;--l3:#6fa1bd;--l4:#3d7796;--l5:#174a66}
@page{size:A4;margin:16mm}body{max-width:none;padding:0}html{font-size:10.5pt}h2{break-after:avoid;margin-top:1.75rem}h2.small{margin-top:1rem}
.customer{font-size:9pt}.customer h1{font-size:15pt}.customer h2{margin-top:.9rem;font-size:11pt}.customer h2.small{font-size:9.5pt;margin-top:.6rem}
.customer .verdicts{margin:.6rem 0}.customer .verdicts li{margin-bottom:.5rem}.customer .verdicts strong{font-size:11pt}
.customer figure svg{width:62%}.customer table{font-size:7pt}.customer th,.customer td{padding-top:.02rem;padding-bottom:.02rem}
.customer ul,.customer ol,.customer li,.customer p{margin-top:.1rem;margin-bottom:.1rem}.customer tbody th.group{padding-top:.2rem}
body:not(.customer){font-size:9pt}body:not(.customer) h1{font-size:16pt}body:not(.customer) h2{font-size:11.5pt;margin-top:1.1rem;border-top-width:1.5pt}
body:not(.customer) h2.small{font-size:10pt;margin-top:.7rem}body:not(.customer) .verdicts strong{font-size:12pt}
body:not(.customer) .panel{display:grid;grid-template-columns:45% 52%;column-gap:3%;align-items:start;break-inside:avoid}
body:not(.customer) .panel>*{min-width:0;margin-top:.6rem}body:not(.customer) .panel>table:has(thead th:nth-child(6)){grid-column:1/-1}
body:not(.customer) figure svg{width:100%}body:not(.customer) figure svg text{font-size:20px}body:not(.customer) figcaption{font-size:7.5pt;line-height:1.3}
body:not(.customer) table,.block{font-size:6.8pt;line-height:1.25}body:not(.customer) th,body:not(.customer) td{padding-top:.5pt;padding-bottom:.5pt}
body:not(.customer) tbody th.group{padding-top:3pt}
figure,tr,.verdicts li,.line,.block,h2+p{break-inside:avoid}figure svg{max-height:190mm}
h2+p,h2+.marks,caption,thead,tbody tr:first-child{break-after:avoid}tbody tr:last-child{break-before:avoid}nav,.skip{display:none}a{color:inherit;text-decoration:none}}
)css";
}

}  // namespace mintspread::reports
