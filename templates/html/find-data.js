{#- The finder's shoes as a script. A shoe: path, title, category, whom it suits,
    verdicts of the rows and of the columns (key, words), pace tier, bands of
    the wishes (band, words, borderline), cautions, provisional. -#}
"use strict";
globalThis.folioFind = {root: {{ head.root | json }}, words: {{ "static/find.js" | words }}, rowLabel: {{ row_label | json }}, columnLabel: {{ column_label | json }}, rows: {{ rows | json }}, columns: {{ columns | json }}, paceLabel: {{ pace_label | json }}, tiers: {{ tiers | json }}, wishes: {{ wishes | json }}, shoes: {{ shoes | safe }}};
