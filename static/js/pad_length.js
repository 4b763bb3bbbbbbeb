// Lengths as they are typed, read and written on the tablet as server/trade/length.py does. Whole nanometres; a double
// holds them exactly. What would need longer sums than a double does exactly is left to the server: { unsure }.

const NM = { mm: 1e6, in: 25400000 };
const LONGEST_NM = 1e12;
const SIGNS = [
  [/[\u2212\u2010-\u2014\ufe63\uff0d]/g, "-"],
  [/[\u2044\u2215]/g, "/"],
  [/[\u2033\u201c-\u201e\u02ba\uff02]/g, '"'],
  [/[\u2032\u2018\u2019\u02b9]/g, "'"],
];
const FRACTION = /[\u00bc-\u00be\u2150-\u215f\u2189]/;
const MARKS = new Map([["", ""]]);
const mean = (mark, ...words) => words.forEach((word) => MARKS.set(word, mark));
mean("mm", "mm", "millimetre", "millimetres", "millimeter", "millimeters");
mean("in", '"', "in", "in.", "inch", "inches");
mean("thou", "thou");
mean("tenths", "tenth", "tenths");
mean("µm", "\u03bcm", "um", "micron", "microns", "micrometre", "micrometres", "micrometer", "micrometers");

const signs = (text) => SIGNS.reduce((plain, [found, put]) => plain.replace(found, put), text);

function plainSigns(text) {
  let out = "";
  for (const character of signs(text)) {
    if (/\s/.test(character)) out += " ";
    else if (FRACTION.test(character)) out += (/\d$/.test(out) ? " " : "") + signs(character.normalize("NFKC"));
    else out += character;
  }
  return out.replaceAll("''", '"').trim();
}

// { nm, mark } as typed, mark being the unit written beside the number; { why } where it cannot be read.
export function readLength(text, unit) {
  const plain = plainSigns(text).toLowerCase().replaceAll("µ", "\u03bc");
  if (text.length > 80) return { why: "it is too long for a length" };
  if (!plain) return { why: "nothing was typed" };
  const negative = plain.startsWith("-");
  const unsigned = /^[+-]/.test(plain) ? plain.slice(1).trimStart() : plain;
  const found = /^[0-9.,]+(?:(?:\s+|-)[0-9]+\s*\/\s*[0-9]+|\s*\/\s*[0-9.,]+)?/.exec(unsigned);
  if (!found) return { why: "it is not a number" };
  const rest = unsigned.slice(found[0].length).trim();
  if (!MARKS.has(rest)) return { why: `“${rest}” is not a unit of length used here` };
  const mark = MARKS.get(rest);
  if (mark === "tenths" && unit === "mm") return { why: "tenths reads two ways in millimetre work; write the figure out" };
  const read = valueOf(found[0].trim(), mark || unit);
  if (read.nm === undefined) return read;
  if (read.nm > LONGEST_NM) return { why: "it is longer than 1 km" };
  return { nm: negative && read.nm ? -read.nm : read.nm, mark };
}

// How many nanometres a number of each unit is, as a whole number over a power of ten.
const OF = { mm: [NM.mm, 0], in: [NM.in, 0], thou: [25400, 0], tenths: [2540, 0], µm: [1000, 0] };

function valueOf(number, unit) {
  const [nmPerUnit] = OF[unit];
  if (number.includes("/")) {
    const parts = /^(?:([0-9]+)(?:\s+|-))?([0-9]+)\s*\/\s*([0-9]+)$/.exec(number);
    if (!parts) return { why: "a decimal is mixed with a fraction" };
    const [whole, above, below] = [Number(parts[1] ?? 0), Number(parts[2]), Number(parts[3])];
    if (below === 0) return { why: "it divides by zero" };
    return over((whole * below + above) * nmPerUnit, below);
  }
  if (!/^(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)$/.test(number)) return { why: "it is not a number, or has two decimal marks" };
  const [whole, decimals = ""] = number.replace(",", ".").split(".");
  const shown = decimals.replace(/0+$/, "");
  // Zeros of the unit and of the power of ten cancel: 25400000/10⁵ is 254.
  let [top, places] = [nmPerUnit, shown.length];
  while (places > 0 && top % 10 === 0) [top, places] = [top / 10, places - 1];
  return over(Number(whole + shown) * top, 10 ** places);
}

// above/below, to the nearest whole, half to even.
function over(above, below) {
  if (Number.isSafeInteger(above) && Number.isSafeInteger(2 * below)) return { nm: halfEven(above, below) };
  return above / below > LONGEST_NM * 10 ? { nm: Infinity } : { unsure: true };
}

function halfEven(above, below) {
  const rest = above % below;
  const whole = (above - rest) / below;
  if (2 * rest < below) return whole;
  if (2 * rest > below) return whole + 1;
  return whole % 2 === 0 ? whole : whole + 1;
}

// A length with so many decimals, without its unit: in millimetres 3 or 4, in inches 4 or 5.
export function written(nm, unit, decimals) {
  const scaled = halfEven(Math.abs(nm), NM[unit] / 10 ** decimals);
  const digits = String(scaled).padStart(decimals + 1, "0");
  return `${nm < 0 && scaled ? "-" : ""}${digits.slice(0, -decimals)}.${digits.slice(-decimals)}`;
}

// As it is read in the shop: one figure more where the size is not whole in the usual ones.
export function shown(nm, unit) {
  const decimals = unit === "mm" ? 3 : 4;
  const text = written(nm, unit, decimals);
  const finer = written(nm, unit, decimals + 1);
  return finer === `${text}0` ? text : finer;
}
