// SPDX-License-Identifier: GPL-3.0-or-later
// html_style.hpp: how the page looks: on a screen of any width, light or dark, and printed.
#pragma once

namespace airlatch {

// Before is ochre, hollow and broken; after is dark teal, filled and unbroken: told apart in grey, too.
inline constexpr const char* kPageStyle = R"(
:root{color-scheme:light dark;--ink:#1c2b30;--soft:#4a5a60;--rule:#c8d2d4;--paper:#fff;--tint:#f2f6f6;--after:#0e5a66;--before:#a85a12;--third:#5b4a8a;--good:#0e5a66;--bad:#9c2f1f;--open:#6a5a12;--allowed:#dbe9ea;--limit:#1c2b30}
@media (prefers-color-scheme:dark){:root{--ink:#e4ecee;--soft:#b2c0c4;--rule:#3c4a4f;--paper:#12191c;--tint:#1b2529;--after:#6cc3d0;--before:#e0a25c;--third:#b7a6e6;--good:#6cc3d0;--bad:#f09a88;--open:#d8c46a;--allowed:#22373c;--limit:#e4ecee}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:1rem/1.5 "Noto Sans","DejaVu Sans",Verdana,sans-serif;overflow-wrap:break-word}
main{max-width:52rem;margin:0 auto;padding:1rem}
section+section{border-top:3px double var(--rule);margin-top:2.5rem;padding-top:1rem}
h1,h2,h3{font-family:"DejaVu Serif",Georgia,serif;font-weight:600;line-height:1.25}
h1{font-size:1.55rem;margin:.2rem 0 .6rem}h2{font-size:1.15rem;margin:1.5rem 0 .4rem}h3{font-size:1rem;margin:1.2rem 0 .3rem}
p{margin:.35rem 0}.soft{color:var(--soft);font-size:.875rem}.lead{font-size:1.1rem}
ul{margin:.3rem 0;padding-left:1.2rem}
dl{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(20rem,100%),1fr));gap:.2rem 1.5rem;margin:.5rem 0}
dl div{display:flex;gap:.6rem;border-bottom:1px solid var(--rule);padding:.15rem 0}dt{color:var(--soft);flex:0 0 6.5rem}dd{margin:0;min-width:0;overflow-wrap:anywhere}
.callout{border-left:.4rem solid var(--open);background:var(--tint);padding:.6rem 1rem;margin:.8rem 0}
.callout.good{border-color:var(--good)}.callout.bad{border-color:var(--bad)}.callout.caution{border-left-style:double}
.callout strong{display:block;font-size:1.15rem}.callout.caution strong{font-size:1rem}.callout.caution{font-size:.9rem}
table{border-collapse:collapse;width:100%;font-size:.875rem;margin:.5rem 0}caption{text-align:left;color:var(--soft);padding:.2rem 0}
th,td{text-align:left;vertical-align:top;padding:.3rem .5rem .3rem 0;border-bottom:1px solid var(--rule);overflow-wrap:anywhere}
thead th{overflow-wrap:normal;border-bottom:2px solid var(--ink)}tbody th{font-weight:400}.n{text-align:right;font-variant-numeric:tabular-nums}td.n,th.n{padding-right:1rem}
pre{background:var(--tint);padding:.6rem;font-size:.8125rem;white-space:pre-wrap;overflow-wrap:anywhere}
figure{margin:1rem 0}figcaption{color:var(--soft);font-size:.875rem}
.plot{padding-left:3.2rem;padding-right:.6rem}.panel{position:relative;border:1px solid var(--soft);margin-bottom:.2rem}
.panel>svg{position:absolute;inset:0;width:100%;height:100%}
.plot .name{font-size:.8125rem;margin-left:-3.2rem;color:var(--soft)}
.plot span.tick,.plot span.note,.plot span.number{position:absolute;font-size:.75rem;line-height:1;white-space:nowrap}
.panel span.tick{right:100%;left:auto!important;transform:translateY(-50%);padding-right:.3rem}
.times{position:relative;height:1rem}.times span.tick{transform:translateX(-50%);top:.1rem!important}
.marks{position:relative;height:1rem}.marks span.number{transform:translateX(-50%);color:var(--soft)}
.below{font-size:.8125rem;color:var(--soft);text-align:center}
.plot span.note{font-size:.8125rem;padding:.2rem .35rem;transform:translateY(-50%);font-weight:600;white-space:normal!important;line-height:1.15!important;width:max-content}.plot span.note.left{transform:translate(-100%,-50%)}
.legend{font-size:.8125rem;display:flex;flex-wrap:wrap;gap:.1rem 1.2rem}
path{fill:none;vector-effect:non-scaling-stroke}.grid{stroke:var(--rule);stroke-width:.7}.mark{stroke:var(--soft);stroke-width:.8;stroke-dasharray:1 3}
.curve{stroke-width:1.4;stroke-linejoin:round}.curve.after,.curve.first{stroke:var(--after)}.curve.before{stroke:var(--before);stroke-width:2;stroke-dasharray:7 3}
.curve.second{stroke:var(--before);stroke-dasharray:6 3}.curve.third{stroke:var(--third);stroke-dasharray:2 2}.curve.fit{stroke:var(--bad);stroke-width:2;stroke-dasharray:2 4}
.drop{stroke:var(--ink);stroke-width:2.5}.leader{stroke:var(--ink);stroke-width:.7}.level{stroke:var(--ink);stroke-width:1;stroke-dasharray:3 3}
.gauge{margin:.5rem 0;padding-bottom:.4rem;border-bottom:1px solid var(--rule);break-inside:avoid}.gauge .what{display:flex;flex-wrap:wrap;gap:0 1rem;justify-content:space-between}
.gauge .row{display:grid;grid-template-columns:5rem minmax(0,1fr) 13.5rem;gap:.6rem;align-items:center;font-size:.9rem}
.gauge.wide .row{grid-template-columns:9rem minmax(0,1fr) 13rem}.gauge .soft{white-space:nowrap}
.bar{width:100%;height:1.1rem;display:block}.bar .allowed{fill:var(--allowed)}.bar .is{fill:var(--after)}.bar .was{fill:var(--paper);stroke:var(--before);stroke-width:2;vector-effect:non-scaling-stroke}
.bar .limit{stroke:var(--limit);stroke-width:2.5}.bar .spread{stroke:var(--ink);stroke-width:2}
.key{display:inline-block;width:1.6rem;height:.7rem;background:var(--allowed);border-right:2.5px solid var(--limit);vertical-align:baseline}
@media (max-width:40rem){
.gauge .row,.gauge.wide .row{grid-template-columns:4.5rem minmax(0,1fr);gap:0 .6rem}.gauge .row .text{grid-column:2}
.stack thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}.stack,.stack tbody,.stack tr,.stack th,.stack td,.stack caption{display:block;width:100%}
.stack tr{padding:.4rem 0;border-bottom:2px solid var(--rule)}.stack th,.stack td{border:0;padding:.1rem 0;text-align:left}.stack tbody th{font-weight:600}
.stack td:not(:empty)::before{content:attr(data-head) ": ";color:var(--soft)}}
@media print{:root{color-scheme:light;--ink:#1c2b30;--soft:#4a5a60;--rule:#c8d2d4;--paper:#fff;--tint:#f2f6f6;--after:#0e5a66;--before:#a85a12;--third:#5b4a8a;--good:#0e5a66;--bad:#9c2f1f;--open:#6a5a12;--allowed:#dbe9ea;--limit:#1c2b30}
@page{margin:13mm}html{font-size:12px}body{font-size:12px;line-height:1.25}.low .panel{height:100px!important}p{margin:.2rem 0}dl{margin:.2rem 0;gap:0 1.5rem}ul{margin:.15rem 0}.bar{height:.9rem}.gauge .row{line-height:1.15}main{max-width:none;padding:0}section+section{break-before:page;border:0;margin:0;padding:0}
*{print-color-adjust:exact;-webkit-print-color-adjust:exact}
.soft,table,figcaption,.legend,.gauge .row,dl,.callout.caution,.below,.plot .name,.plot span.note,caption,pre{font-size:12px}.plot span.tick,.plot span.number{font-size:12px}
h1{font-size:19px}h2{font-size:15px;margin:.7rem 0 .2rem}.callout{padding:.35rem .8rem;margin:.4rem 0}.callout strong{font-size:15px}.gauge{margin:.2rem 0;padding-bottom:.2rem}figure{margin:.4rem 0}.callout.caution{line-height:1.2}
h1,h2,h3,caption{break-after:avoid}figure,.callout,tr,dl div{break-inside:avoid}thead{display:table-header-group}}
)";

}  // namespace airlatch
