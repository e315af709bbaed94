#include "reports/page_style.hpp"

namespace mintspread::reports {

// Ends of cells, rows and row groups and the quotes about numbers are left out, as HTML allows: a page has thousands.
std::string_view page_template() {
  return R"html(<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta name="referrer" content="no-referrer">
<link rel="icon" href="data:,">
<title>{{title}}</title>
<style>{{{style}}}</style>
</head>
<body{{#customer}} class="customer"{{/customer}}>
<a class="skip" href="#answer">Skip to the answer</a>
<svg class="defs" aria-hidden="true" focusable="false"><defs>
<pattern id="h-out" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="plate" d="M0 0H6V6H0Z"/><path class="h-out" d="M0 0V6"/></pattern>
<pattern id="h-unknown" width="5" height="5" patternUnits="userSpaceOnUse"><path class="h-unknown" d="M1 2.5H3"/></pattern>
<pattern id="h-1" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="h-1" d="M0 0V6"/></pattern>
<pattern id="h-2" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)"><path class="h-2" d="M0 0V5"/></pattern>
<pattern id="h-3" width="11" height="11" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="h-3" d="M0 0V11"/></pattern>
<pattern id="h-4" width="6" height="6" patternUnits="userSpaceOnUse"><path class="h-4" d="M0 0V6"/></pattern>
<pattern id="h-5" width="6" height="6" patternUnits="userSpaceOnUse"><path class="h-5" d="M0 0H6"/></pattern>
<pattern id="h-6" width="7" height="7" patternUnits="userSpaceOnUse"><path class="h-6" d="M0 0H7M0 0V7"/></pattern>
</defs></svg>
<header>
<h1>{{coin}}</h1>
<p class="soft">{{what}}</p>
{{#note}}<p class="soft">{{text}}</p>
{{/note}}
</header>
<main>
<section id="answer" aria-label="Answer">
{{#has_verdicts}}<ul class="verdicts">
{{#verdicts}}<li{{#less}} class="less"{{/less}}><strong>{{verdict}}</strong> {{limit}}{{#band}} {{text}}{{/band}}{{#targets}}
<br>Target {{text}}{{/targets}}</li>
{{/verdicts}}
</ul>
{{/has_verdicts}}
{{#no_verdicts}}<p>No windows were given: there is no acceptance to tell.</p>
{{/no_verdicts}}
<h2 class="small">What to do next</h2>
<ol>
{{#next}}<li>{{text}}</li>
{{/next}}
</ol>
<h2 class="small">What the answer rests on</h2>
<ul>
{{#rests}}<li>{{text}}</li>
{{/rests}}
</ul>
<h2 class="small">What it does not cover</h2>
<ul>
{{#uncovered}}<li>{{text}}</li>
{{/uncovered}}
</ul>
{{#has_warnings}}<h2 class="small">Warnings</h2>
<ul>
{{#warnings}}<li>{{text}}</li>
{{/warnings}}
</ul>
{{/has_warnings}}
</section>
{{#has_contents}}<nav aria-label="Figures">
<h2 class="small">Figures</h2>
<ol>
{{#figures}}<li><a href="#{{id}}">{{heading}}</a></li>
{{/figures}}
</ol>
</nav>
{{/has_contents}}
{{#figures}}<section id="{{id}}" aria-labelledby="{{id}}-h">
<h2 id="{{id}}-h">{{heading}}</h2>
{{#lead}}<p>{{text}}</p>
{{/lead}}
{{#has_marks}}<ul class="marks">
{{#marks}}<li>Marked: {{text}}.</li>
{{/marks}}
</ul>
{{/has_marks}}
{{#panels}}{{#has_drawing}}<div class="panel">
<figure>
{{{drawing}}}
<figcaption>{{caption}}</figcaption>
</figure>
{{/has_drawing}}
{{#has_table}}{{#table}}<table{{#words}} class="words"{{/words}}>
<caption>{{caption}}</caption>
<thead><tr>{{#columns}}<th scope="col">{{text}}{{/columns}}
{{#groups}}<tbody>
{{#has_heading}}<tr><th class="group" scope="rowgroup" colspan="{{width}}">{{heading}}
{{/has_heading}}
{{#rows}}<tr><th scope=row>{{label}}{{#cells}}<td>{{#parts}}{{#number}}<data value={{value}}{{#scaled}} data-scale={{scale}}{{/scaled}}>{{text}}</data>{{/number}}{{#word}}{{text}}{{/word}}{{/parts}}{{/cells}}
{{/rows}}
{{/groups}}
</table>
{{/table}}{{/has_table}}{{#has_drawing}}</div>
{{/has_drawing}}{{/panels}}
{{#lines}}<p class="line">{{name}}<br><code>{{text}}</code></p>
{{/lines}}
</section>
{{/figures}}
</main>
<footer>
<h2>Record</h2>
<dl class="block">
{{#record}}<div><dt>{{name}}</dt><dd>{{text}}</dd></div>
{{/record}}
</dl>
<h2 class="small">Cautions</h2>
<ul>
{{#cautions}}<li>{{text}}</li>
{{/cautions}}
</ul>
</footer>
</body>
</html>
)html";
}

}  // namespace mintspread::reports
