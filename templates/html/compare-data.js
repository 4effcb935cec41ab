{#- The comparison as a script, so that it can be read from a disk too, where
    nothing can be fetched. A row: path, title, maker, category, price, price's
    amount, currency, cells. A cell: text, number to sort by, its expanded
    uncertainty, and in bands the band and whether it is borderline; 0 for one that
    was not judged. -#}
"use strict";
globalThis.folioCompare = {root: {{ head.root | json }}, words: {{ "static/compare.js" | words }}, categories: {{ categories | json }}, columns: {{ columns | json }}, rows: [
{%- for row in rows %}
[{{ row.shoe.path | json }},{{ row.shoe.title | json }},{{ row.shoe.maker | json }},{{ row.shoe.category_key | json }},{{ row.shoe.price | json }},{{ row.price | json }},{{ row.currency | json }},[{% for cell in row.cells %}{% if cell.text is none %}0{% else %}[{{ cell.text | json }},{% if cell.sort is number %}{{ cell.sort | round(precision=5) }}{% else %}null{% endif %},{% if cell.spread is number %}{{ cell.spread | round(precision=5) }}{% else %}null{% endif %}{% if columns[loop.index0].kind == "band" %},{{ cell.band_index | json }},{% if cell.borderline %}1{% else %}0{% endif %}{% endif %}]{% endif %}{% if not loop.last %},{% endif %}{% endfor %}]]{% if not loop.last %},{% endif %}
{%- endfor %}
]};
