/* A typed number as the server reads it (moldcare.work.numbers): comma and point both part
   decimals; in English 12,400 could be two numbers, elsewhere 12.400 could. readNumber gives it in
   millionths as a BigInt, which compares exactly; "two" where it could be two numbers, null for none. */
"use strict";
globalThis.readNumber = (text, language) => {
  let plain = text.trim().replace(/(\d)[\s\u00a0\u202f'’](?=\d{3}(\D|$))/g, "$1").replace("\u2212", "-");
  const signs = plain.match(/[.,]/g) || [];
  if (new Set(signs).size === 2) {
    const mark = signs[signs.length - 1];
    const group = signs[0];
    const grouped = new RegExp(`^[+-]?\\d{1,3}(\\${group}\\d{3})+\\${mark}\\d+$`);
    if (signs.filter((sign) => sign === mark).length > 1 || !grouped.test(plain)) return null;
    plain = plain.replaceAll(group, "").replace(mark, ".");
  } else if (signs.length > 1) {
    if (!new RegExp(`^[+-]?\\d{1,3}(\\${signs[0]}\\d{3})+$`).test(plain)) return null;
    plain = plain.replaceAll(signs[0], "");
  } else if (signs.length) {
    const group = language.split("-")[0] === "en" ? "," : ".";
    if (signs[0] === group && /^[+-]?[1-9]\d{0,2}[.,]\d{3}$/.test(plain)) return "two";
    plain = plain.replace(",", ".");
  }
  const parts = /^([+-]?)(\d*)(?:\.(\d*))?$/.exec(plain);
  if (!parts || !(parts[2] || parts[3])) return null;
  const [, sign, whole, decimals = ""] = parts;
  if (decimals.length > 6 || whole.replace(/^0+/, "").length > 12) return null;
  const millionths = BigInt((whole || "0") + decimals.padEnd(6, "0"));
  return sign === "-" ? -millionths : millionths;
};
