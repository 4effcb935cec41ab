{#- The finder's shoes as a script. A shoe: path, title, category, whom it suits,
    verdicts of the rows and of the columns (key, words), pace tier, bands of
    the wishes (band, words, borderline), cautions, provisional. -#}
"use strict";
globalThis.folioFind = {root: {{ head.root | json }}, words: {{ "static/find.js" | words }}, rowLabel: {{ row_label | json }}, columnLabel: {{ column_label | json }}, rows: {{ rows | json }}, columns: {{ columns | json }}, paceLabel: {{ pace_label | json }}, tiers: {{ tiers | json }}, wishes: {{ wishes | json }}, shoes: [
{%- for item in shoes %}
[{{ item.shoe.path | json }},{{ item.shoe.title | json }},{{ item.shoe.category_key | json }},{{ item.suits | json }},[{% for v in item.rows %}[{{ v.key | json }},{{ v.words | json }}]{% if not loop.last %},{% endif %}{% endfor %}],[{% for v in item.columns %}[{{ v.key | json }},{{ v.words | json }}]{% if not loop.last %},{% endif %}{% endfor %}],{% if item.pace and item.pace.band %}[{{ item.pace.band_index | json }},{{ item.pace.band | json }},{{ item.pace.borderline | json }}]{% else %}null{% endif %},[{% for b in item.bands %}{% if b.band %}[{{ b.band_index | json }},{{ b.band | json }},{{ b.borderline | json }}]{% else %}null{% endif %}{% if not loop.last %},{% endif %}{% endfor %}],{{ item.cautions | json }},{{ item.provisional | json }}]{% if not loop.last %},{% endif %}
{%- endfor %}
]};
