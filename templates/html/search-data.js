{#- What can be searched, as a script. An entry: title, path, kind, text. -#}
"use strict";
globalThis.folioSearch = {root: {{ head.root | json }}, words: {{ "static/search.js" | words }}, entries: [
{%- for entry in entries %}
[{{ entry.title | json }},{{ entry.path | json }},{{ entry.kind | json }},{{ entry.text | json }}]{% if not loop.last %},{% endif %}
{%- endfor %}
]};
