{#- The comparison as a script, so that it can be read from a disk too, where
    nothing can be fetched. What the rows hold, and in which form, is told by
    `compare_rows` of the views: lists by column, each JSON within a text. -#}
"use strict";
globalThis.folioCompare = {root: {{ head.root | json }}, words: {{ "static/compare.js" | words }}, categories: {{ categories | json }}, columns: {{ columns | json }}, makers: {{ makers | json }}, currency: {{ currency | json }}, shoes: {{ shoes }}, long: {{ long }}, rows: {{ rows | safe }}};
