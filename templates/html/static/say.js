// What the scripts say, in the page's language. A script writes its texts in
// English with {names} for what is put in; the page's data brings the language's
// own texts, where it has them. A text that is counted is written for many, with
// `one` for one and the number as `n`. `number` puts the decimal sign, `inside`
// a label as it stands within a sentence. What is put in leaves the order of the
// words around it as it is, whichever way its own letters run: between Unicode's
// isolates, as on the page; `name` does so for a name beside other words.
"use strict";
globalThis.folioWords = ({texts, decimal, capitals}) => {
  const rules = new Intl.PluralRules(document.documentElement.lang || "en");
  const leftwards = /[\u0590-\u08ff\u200f\ufb1d-\ufdff\ufe70-\ufefe\u{10800}-\u{10fff}\u{1e800}-\u{1efff}]/u;
  const isolated = (text) => (leftwards.test(text) ? `\u2068${text}\u2069` : text);
  const put = (text, values) => text.replace(/\{([a-z_]+)\}/g, (whole, name) => (name in values ? isolated(String(values[name])) : whole));
  return {
    name: isolated,
    say: (text, values = {}) => {
      const own = texts[text];
      if (typeof own === "string") return put(own, values);
      if (own) return put(own[rules.select(Number(values.n))] ?? own.other, values);
      return put("one" in values && Number(values.n) === 1 ? values.one : text.replace(/^\[[^\]]*\] /, ""), values);
    },
    number: (text) => (decimal === "." ? text : text.replace(/(\d)\.(?=\d)/g, `$1${decimal}`)),
    inside: (label) => (capitals ? label : label.charAt(0).toLowerCase() + label.slice(1)),
  };
};
