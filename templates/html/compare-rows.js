{#- All rows of a comparison that are too many for its page, as `compare-data.js`
    has the first of them. -#}
"use strict";
globalThis.folioRows({{ rows | safe }});
