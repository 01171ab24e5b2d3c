//! How the page looks: system faces, a measure of about seventy letters, warm ink on paper, the same
//! the other way round in the dark, and black on white when printed.

/// The style sheet.
pub const STYLE: &str = "
:root{color-scheme:light dark;--paper:#fbf8f1;--ink:#211d16;--soft:#5b5344;--rule:#d8cfbd;--mark:#9a5600;--wash:#f1eadb;--alarm:#8c1d18}
@media (prefers-color-scheme:dark){:root{--paper:#100e0a;--ink:#efe5d2;--soft:#b7a98e;--rule:#3a3327;--mark:#f2a33a;--wash:#1c1811;--alarm:#ff9b8f}}
*{box-sizing:border-box}
html{background:var(--paper);color:var(--ink);font:1.0625rem/1.55 'Iowan Old Style','Palatino Linotype',Palatino,Charter,Georgia,serif}
body{margin:0 auto;padding:2rem 1.25rem 4rem;max-width:54rem}
p,ul,ol,dl,h1,h2,h3{max-width:70ch}
h1{font-size:1.9rem;line-height:1.2;margin:.4rem 0 .2rem;text-wrap:balance}
h2{font-size:1.3rem;line-height:1.3;margin:3rem 0 .6rem;padding-left:.7rem;border-left:.3rem solid var(--mark)}
h3{font-size:1.05rem;margin:1.8rem 0 .4rem}
p{margin:.6rem 0}
.sub{color:var(--soft);margin-top:0}
.note,figcaption,caption,tfoot,th,td,dt,dd,nav,code,.banner,.glyph+p{font-family:system-ui,sans-serif}
.note,figcaption,caption,tfoot{font-size:.875rem;color:var(--soft);line-height:1.45}
.banner{border:2px dashed var(--mark);padding:.6rem .9rem;font-weight:600;max-width:70ch}
.fails{border:3px double var(--alarm);padding:.2rem .9rem .6rem;margin:1rem 0}
.fails h2{border:0;padding:0;margin:.6rem 0 .4rem;color:var(--alarm)}
.verdict{font-family:system-ui,sans-serif;font-weight:600}
nav{font-size:.9rem;max-width:70ch}
nav a{color:inherit;margin-right:1.1rem;padding:.3rem 0;display:inline-block}
a{text-underline-offset:.2em}
a:focus-visible,[tabindex]:focus-visible{outline:2px solid var(--mark);outline-offset:2px}
dl{display:grid;grid-template-columns:max-content 1fr;gap:.25rem 1rem;font-size:.925rem;margin:1rem 0}
dt{color:var(--soft)}dd{margin:0;overflow-wrap:anywhere}
code{font-family:ui-monospace,'DejaVu Sans Mono',Menlo,Consolas,monospace;font-size:.85em;overflow-wrap:anywhere}
pre{background:var(--wash);padding:.7rem .9rem;white-space:pre-wrap;overflow-wrap:anywhere;max-width:100%;margin:.6rem 0}
.scroll{overflow-x:auto;margin:1rem 0}
table{border-collapse:collapse;min-width:24rem;font-size:.9rem;line-height:1.4;font-variant-numeric:tabular-nums lining-nums}
caption{text-align:left;padding:0 0 .4rem;max-width:70ch}
caption strong{color:var(--ink);display:block;font-size:.95rem}
th,td{padding:.28rem .8rem .28rem 0;text-align:left;vertical-align:top}
thead th{border-bottom:1.5px solid var(--ink);font-weight:600;vertical-align:bottom}
tbody th{font-weight:500}
tbody tr+tr>*{border-top:1px solid var(--rule)}
tr.total>*{border-top:1.5px solid var(--ink)!important;font-weight:600}
.n{text-align:right}tbody .n:not(:last-child){white-space:nowrap}td:not(.n),tbody th{overflow-wrap:break-word}.w{white-space:nowrap}
th:last-child,td:last-child{padding-right:0}
td a{color:inherit;text-decoration-color:var(--rule);display:inline-block;min-width:24px;min-height:24px}.notes{white-space:nowrap;color:var(--soft)}td.notes a{text-align:center}
tfoot td{padding-top:.5rem;border-top:1.5px solid var(--ink);max-width:70ch;text-align:left}
tfoot p{margin:.15rem 0}
figure{margin:1.6rem 0}
figure svg{display:block;width:100%;min-width:34rem;max-width:42.5rem;height:auto}
figcaption{margin-top:.5rem;max-width:70ch}
.heads{list-style:none;padding:0;margin:1rem 0;max-width:none}
.heads li{display:grid;grid-template-columns:11rem 1fr;gap:0 1.2rem;padding:.55rem 0;border-top:1px solid var(--rule)}
.heads li:last-child{border-bottom:1px solid var(--rule)}
.heads b{font-size:1.45rem;line-height:1.2;font-variant-numeric:lining-nums tabular-nums}
.heads a{color:inherit;text-decoration-color:var(--rule)}
.heads span{align-self:center}
.glyph{display:block;width:4.5rem;height:auto;color:var(--mark)}
.glyph+p{color:var(--soft);font-size:.9rem;margin:.3rem 0 0;letter-spacing:.02em}
li+li{margin-top:.3rem}
@media (max-width:34rem){.heads li,dl{grid-template-columns:1fr}dd{margin-bottom:.4rem}}
@media print{
:root{color-scheme:light;--paper:#fff;--ink:#000;--soft:#333;--rule:#bbb;--mark:#000;--wash:#f2f2f2;--alarm:#000}
@page{margin:18mm 16mm}
html{font-size:10pt}body{padding:0;max-width:none}nav{display:none}
h2,h3,.note:has(+figure){break-after:avoid}td a,th a{text-decoration:none}.notes{display:none}figure,table,tr,.heads li,.banner{break-inside:avoid}
.scroll{overflow:visible}tbody .n:not(:last-child){white-space:normal}figure svg{min-width:0}
}
";

/// An egg case with its horns, yolk and embryo: the mark at the head of the page.
pub const GLYPH: &str = "<svg class=\"glyph\" viewBox=\"0 0 96 44\" aria-hidden=\"true\" fill=\"none\" stroke=\"currentColor\" \
stroke-width=\"2\" stroke-linecap=\"round\" stroke-linejoin=\"round\">\
<path d=\"M3 3C10 5 13 8 20 8C38 10 58 10 76 8C83 8 86 5 93 3M3 41C10 39 13 36 20 36C38 34 58 34 76 36C83 36 86 39 93 41\
M20 8C17 17 17 27 20 36M76 8C79 17 79 27 76 36\"/>\
<circle cx=\"58\" cy=\"23\" r=\"6.5\" fill=\"currentColor\"/>\
<path d=\"M52 20C44 13 31 14 28 21C26 26 29 30 33 30\"/></svg>";
