// What follows from a reading, worked out on the tablet: the verdict, the next move in words, and whether it can be meant
// at all. The same as server/rules/verdict.py, next_move.py and plausible.py; a test runs one table through both.
// What is said here is provisional: the server's word stands.

import { written } from "./pad_length.js";

const NM_PER_MM = 1e6;
const half = (nm) => (nm - (nm % 2)) / 2;

// limits: { nominal_nm, low_nm, high_nm, cutting, kind }. Gives { word, beyond_nm, to_middle_nm }.
export function judge(value_nm, { low_nm, high_nm, cutting, kind }) {
  if (kind === "reference") return { word: "reference", beyond_nm: 0, to_middle_nm: null };
  const to_middle_nm = low_nm === null || high_nm === null ? null : half(Math.abs(2 * value_nm - low_nm - high_nm));
  if (low_nm !== null && value_nm < low_nm) {
    const word = cutting === "larger" ? "metal left" : "past the limit";
    return { word, beyond_nm: low_nm - value_nm, to_middle_nm };
  }
  if (high_nm !== null && value_nm > high_nm) {
    const word = cutting === "smaller" ? "metal left" : "past the limit";
    return { word, beyond_nm: value_nm - high_nm, to_middle_nm };
  }
  return { word: "good", beyond_nm: 0, to_middle_nm };
}

// An amount to the last figure of a micrometer; one that is not nothing is not shown as nothing.
function amount(nm, unit) {
  const said = written(nm, unit, unit === "mm" ? 3 : 4);
  if (nm === 0 || /[1-9]/.test(said)) return said;
  return `less than ${unit === "mm" ? "0.001" : "0.0001"}`;
}

export function nextMove(name, value_nm, limits, verdict, operation, unit) {
  const { low_nm, high_nm, cutting } = limits;
  const { word, beyond_nm, to_middle_nm } = verdict;
  if (word === "reference") return `${name} is for reference: nothing judges it.`;
  const by = amount(beyond_nm, unit);
  if (word === "good") {
    if (to_middle_nm === null) return `${name} is good.`;
    if (to_middle_nm === 0) return `${name} is good, in the middle of its limits.`;
    const side = 2 * value_nm > (low_nm ?? 0) + (high_nm ?? 0) ? "above" : "below";
    return `${name} is good, ${amount(to_middle_nm, unit)} ${side} the middle of its limits.`;
  }
  if (word === "past the limit") {
    const limit = low_nm !== null && value_nm < low_nm ? "lowest" : "highest";
    const ending = cutting === "neither" ? "cutting does not change it" : "cutting again cannot bring it in";
    return `${name} is ${by} past its ${limit} limit; ${ending}. Accept the deviation with a reason, or scrap the piece.`;
  }
  const again = operation === null ? "cut it again" : `run op ${operation} again`;
  if (to_middle_nm === null) return `${by} left: ${again}; the limit is at least ${by} away.`;
  const take = amount(to_middle_nm, unit);
  const aim =
    cutting === "smaller"
      ? `to the middle of the limits takes ${take} off ${name}`
      : `opening ${name} by ${take} brings it to the middle of its limits`;
  return `${by} left: ${again}; ${aim}.`;
}

// What speaks against a reading entered in `unit`: { kind: "not a size" | "other unit" | "far off" }, or null.
export function doubt(value_nm, unit, limits) {
  const expected = limits.nominal_nm ?? limits.high_nm ?? limits.low_nm ?? 0;
  if (isInside(value_nm, limits)) return null;
  if (value_nm <= 0 && expected > 0) return { kind: "not a size" };
  if (expected === 0 || !isFar(value_nm, expected, limits)) return null;
  // The same figure in the other unit: 25.4 is 127/5, and the sums stay whole.
  const larger = () => floorOver(value_nm, 5) * 127 + floorOver(rest(value_nm, 5) * 127, 5);
  const other = unit === "in" ? floorOver(value_nm * 5, 127) : larger();
  return { kind: isFar(other, expected, limits) ? "far off" : "other unit" };
}

const rest = (above, below) => ((above % below) + below) % below;
const floorOver = (above, below) => (above - rest(above, below)) / below;

function isInside(value_nm, { low_nm, high_nm, kind }) {
  if (kind === "at most") return high_nm !== null && value_nm >= 0 && value_nm <= high_nm;
  return low_nm !== null && high_nm !== null && value_nm >= low_nm && value_nm <= high_nm;
}

function isFar(value_nm, expected, { low_nm, high_nm, kind }) {
  if (kind === "at least" && expected <= value_nm && value_nm <= 4 * expected) return false;
  const width = low_nm !== null && high_nm !== null ? high_nm - low_nm : 0;
  const far = Math.max(floorOver(expected, 4), 50 * width, Math.min(5 * NM_PER_MM, expected));
  return Math.abs(value_nm - expected) > far;
}
