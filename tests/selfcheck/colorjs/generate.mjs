// Writes to standard output a table in the form of data/reference/worked_values.csv, computed by Color.js (MIT), with
// seeded random inputs: node generate.mjs [rows per quantity]. An outside check of the colour library.
import { readFileSync } from "node:fs";
import Color from "colorjs.io";
import adapt from "colorjs.io/src/adapt.js";
import "colorjs.io/src/CATs.js";
import { M as srgb } from "colorjs.io/src/spaces/srgb-linear.js";
import { M as p3 } from "colorjs.io/src/spaces/p3-linear.js";
import { M as rec2020 } from "colorjs.io/src/spaces/rec2020-linear.js";

const { version } = JSON.parse(readFileSync(new URL("node_modules/colorjs.io/package.json", import.meta.url)));
const perQuantity = Number(process.argv[2] ?? 25);

/** Mulberry32: the same numbers on every machine. */
let state = 20260101;
function random(low, high) {
  state = (state + 0x6d2b79f5) | 0;
  let t = Math.imul(state ^ (state >>> 15), 1 | state);
  t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
  return low + (high - low) * (((t ^ (t >>> 14)) >>> 0) / 4294967296);
}
const vector = (low, high) => [0, 1, 2].map(() => random(low, high));
/** Log-spaced light, so that blacks and highlights are both met. */
const light = () => Math.exp(random(Math.log(0.005), Math.log(10000)));
const lights = () => [light(), light(), light()];

const mediaWhite = 203; // cd/m2 of 1.0 in Color.js' rec2100 spaces
const hlgScale = 3.7743; // of its HLG
const d65 = [0.3127, 0.329];
const whiteOf = ([x, y]) => [x / y, 1, (1 - x - y) / y];
const relative = (rgb) => rgb.map((c) => c / mediaWhite);

const spaces = {
  "BT.709": { id: "srgb-linear", M: srgb, primaries: [0.64, 0.33, 0.3, 0.6, 0.15, 0.06] },
  "P3-D65": { id: "p3-linear", M: p3, primaries: [0.68, 0.32, 0.265, 0.69, 0.15, 0.06] },
  "BT.2020": { id: "rec2020-linear", M: rec2020, primaries: [0.708, 0.292, 0.17, 0.797, 0.131, 0.046] },
};
const names = Object.keys(spaces);

const convert = (from, coords, to) => new Color(from, coords).to(to).coords;

/** quantity -> [inputs, expected, tolerance] */
const quantities = {
  pq_eotf: () => {
    const e = random(0, 1);
    return [`E=${e}`, convert("rec2100pq", [e, e, e], "rec2100-linear")[0] * mediaWhite, "rel:1e-9"];
  },
  pq_inverse_eotf: () => {
    const l = light();
    return [`L_cdm2=${l}`, convert("rec2100-linear", relative([l, l, l]), "rec2100pq")[0], "abs:1e-12"];
  },
  hlg_oetf: () => {
    const e = random(0, 1);
    // Its c is rounded to eight decimals.
    return [`E=${e}`, convert("rec2100-linear", [e, e, e].map((x) => x * hlgScale), "rec2100hlg")[0], "abs:1e-9"];
  },
  ictcp_pq: () => {
    const rgb = lights();
    return [`RGB_bt2020_cdm2=${rgb.join(" ")}`, convert("rec2100-linear", relative(rgb), "ictcp"), "abs:1e-11"];
  },
  delta_e_itp: () => {
    const one = lights();
    const two = one.map((c) => c * random(0.8, 1.25));
    const [a, b] = [one, two].map((rgb) => new Color("rec2100-linear", relative(rgb)));
    const inputs = `RGB1_bt2020_cdm2=${one.join(" ")}; RGB2_bt2020_cdm2=${two.join(" ")}`;
    return [inputs, a.deltaE(b, "ITP"), "abs:1e-8"];
  },
  cielab: () => {
    const xyz = vector(0.0005, 1);
    const inputs = `XYZ=${xyz.join(" ")}; XYZ_n=${whiteOf(d65).join(" ")}`;
    return [inputs, convert("xyz-d65", xyz, "lab-d65"), "abs:1e-11"];
  },
  cieluv: () => {
    const xyz = vector(0.0005, 1);
    const inputs = `XYZ=${xyz.join(" ")}; XYZ_n=${whiteOf(d65).join(" ")}`;
    return [inputs, convert("xyz-d65", xyz, "luv"), "abs:1e-11"];
  },
  ciede2000: () => {
    const one = [random(0, 100), random(-100, 100), random(-100, 100)];
    const two = one.map((c, i) => c + (i === 0 ? random(-5, 5) : random(-60, 60)));
    const [a, b] = [one, two].map((lab) => new Color("lab", lab));
    return [`Lab1=${one.join(" ")}; Lab2=${two.join(" ")}; kL=kC=kH=1`, a.deltaE(b, "2000"), "abs:1e-10"];
  },
  uv_prime_from_xyz: () => {
    const xyz = vector(0.001, 2);
    return [`XYZ=${xyz.join(" ")}`, new Color("xyz-d65", xyz).uv, "abs:1e-14"];
  },
  uv_prime_from_xy: () => {
    const x = random(0.1, 0.7);
    const y = random(0.05, 0.8);
    return [`x=${x}; y=${y}`, new Color("xyz-d65", whiteOf([x, y])).uv, "abs:1e-14"];
  },
  rgb_to_xyz_matrix: (i) => {
    const { primaries, M } = spaces[names[i % 3]];
    const inputs = `primaries_xy_RGB=${primaries.join(" ")}; white_xy=${d65.join(" ")}; order=row major`;
    return i < 3 ? [inputs, M.toXYZ.flat(), "abs:1e-14"] : null;
  },
  xyz_to_rgb_matrix: (i) => {
    const { primaries, M } = spaces[names[i % 3]];
    const inputs = `primaries_xy_RGB=${primaries.join(" ")}; white_xy=${d65.join(" ")}; order=row major`;
    return i < 3 ? [inputs, M.fromXYZ.flat(), "abs:1e-14"] : null;
  },
  rgb_convert_linear: (i) => {
    const [from, to] = [names[i % 3], names[(i + 1 + (i % 2)) % 3]];
    const rgb = vector(-0.2, 1.2);
    const inputs = `from=${from}; to=${to}; RGB=${rgb.join(" ")}; no clipping`;
    return [inputs, convert(spaces[from].id, rgb, spaces[to].id), "abs:1e-13"];
  },
  srgb_eotf: () => {
    const v = random(0, 1);
    return [`V=${v}`, convert("srgb", [v, v, v], "srgb-linear")[0], "abs:1e-14"];
  },
  chromatic_adaptation: (i) => {
    const method = ["Bradford", "CAT16", "CAT02"][i % 3];
    const xyz = vector(0.01, 1);
    const from = i % 2 ? d65 : [random(0.28, 0.45), random(0.29, 0.41)];
    const to = i % 4 ? [random(0.28, 0.45), random(0.29, 0.41)] : [0.3457, 0.3585];
    const inputs =
      `transform=${method}; XYZ=${xyz.join(" ")}; white_from_xy=${from.join(" ")}; ` +
      `white_to_xy=${to.join(" ")}; complete adaptation`;
    return [inputs, adapt(whiteOf(from), whiteOf(to), xyz, { method }), "abs:1e-12"];
  },
};

const lines = [
  `# computed by Color.js ${version} (MIT); seeded`,
  "id,quantity,inputs,expected,tolerance,source",
];
for (const [quantity, compute] of Object.entries(quantities)) {
  for (let i = 0; i < perQuantity; ++i) {
    const row = compute(i);
    if (!row) continue;
    const [inputs, expected, tolerance] = row;
    lines.push(`${quantity}-${i},${quantity},${inputs},${[expected].flat().join(" ")},${tolerance},Color.js ${version}`);
  }
}
console.log(lines.join("\n"));
