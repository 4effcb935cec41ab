{#- The comparison as a script, so that it can be read from a disk too, where
    nothing can be fetched. A row: path, title, maker, category, price, price's
    amount, currency, cells. A cell: text, number to sort by, its expanded
    uncertainty, and in bands the band and whether it is borderline; 0 for one that
    was not judged. A row is JSON within a text: as values, thousands of rows would
    keep a reader waiting who sees thirty. -#}
"use strict";
globalThis.folioCompare = {root: {{ head.root | json }}, words: {{ "static/compare.js" | words }}, categories: {{ categories | json }}, columns: {{ columns | json }}, makers: {{ makers | json }}, currency: {{ currency | json }}, rows: {{ rows | safe }}};
