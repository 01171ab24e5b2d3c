// How cases look from outside, five ways, as `case_shape` of species.listed names them: horned (most
// skates), with tendrils (many catsharks), with fibres (bamboo and epaulette sharks), spiral (horn
// sharks), plain. Drawn by ourselves, to be told apart at a glance; no portrait of any species.

/**
 * @typedef {object} Outline
 * @property {string} shell the wall
 * @property {string} trim what hangs on it
 * @property {string} ridge lines on the wall
 * @property {string[]} slits where seawater comes in, later
 * @property {[number, number]} middle of the room inside
 * @property {[number, number]} room half width and half height in which an embryo can curl
 * @property {number} fit size of the yolk that fits
 */

/** @type {Record<"horned"|"tendrils"|"fibres"|"spiral"|"plain", Outline>} */
export const OUTLINES = {
  horned: {
    shell: "M26 17Q60 10 94 17Q99 36 94 55Q60 62 26 55Q21 36 26 17Z",
    trim: "M26 17Q15 15 7 5M94 17Q105 15 113 5M26 55Q15 57 7 67M94 55Q105 57 113 67",
    ridge: "M29 21Q60 14 91 21M29 51Q60 58 91 51",
    slits: ["M21 24q-5 3-8 9", "M99 24q5 3 8 9", "M21 48q-5-3-8-9", "M99 48q5-3 8-9"],
    middle: [60, 36],
    room: [28, 14.5],
    fit: 0.98,
  },
  tendrils: {
    shell: "M17 22Q36 15 60 19Q84 15 103 22Q109 36 103 50Q84 57 60 53Q36 57 17 50Q11 36 17 22Z",
    trim: "M17 22C5 20 3 10 10 8S16 16 9 17M103 22C115 20 117 10 110 8S104 16 111 17M17 50C5 52 3 62 10 64S16 56 9 55M103 50C115 52 117 62 110 64S104 56 111 55",
    ridge: "M22 25Q60 21 98 25M22 47Q60 51 98 47",
    slits: ["M15 29v14", "M105 29v14"],
    middle: [60, 36],
    room: [35, 11.5],
    fit: 0.9,
  },
  fibres: {
    shell: "M31 12Q60 6 89 12Q108 20 108 36Q108 52 89 60Q60 66 31 60Q12 52 12 36Q12 20 31 12Z",
    trim: "M25 57q-2 7-7 10M33 60q-1 6-4 10M41 62q0 5-2 9M49 63q1 5 0 8M57 64q1 4 1 7M65 64q1 4 3 7M73 63q1 5 5 8M81 62q2 5 6 9M89 60q2 6 7 9M96 56q3 6 9 9",
    ridge: "M20 24Q60 13 100 24M20 48Q60 59 100 48",
    slits: ["M14 27q-3 9 0 18", "M106 27q3 9 0 18"],
    middle: [60, 36],
    room: [34, 17],
    fit: 1.05,
  },
  spiral: {
    shell: "M16 36Q14 15 38 12Q74 15 104 28Q112 36 104 44Q74 57 38 60Q14 57 16 36Z",
    trim: "M18 22Q24 2 46 12Q40 16 34 20ZM50 13Q62 3 74 18Q66 20 60 22ZM78 19Q90 13 98 26Q92 26 86 27ZM24 55Q34 74 54 59Q48 55 42 52ZM60 57Q72 65 82 51Q74 50 68 48ZM88 50Q98 55 104 44Q98 42 92 42Z",
    ridge: "M40 13Q52 36 50 58M68 18Q80 36 78 52M92 25Q99 36 98 45",
    slits: ["M17 28v16"],
    middle: [48, 36],
    room: [27, 15.5],
    fit: 0.95,
  },
  plain: {
    shell: "M34 13Q60 10 86 13Q106 20 106 36Q106 52 86 59Q60 62 34 59Q14 52 14 36Q14 20 34 13Z",
    trim: "M14 36h-6M106 36h6",
    ridge: "M24 24Q60 16 96 24M24 48Q60 56 96 48",
    slits: ["M15 29v14", "M105 29v14"],
    middle: [60, 36],
    room: [33, 15.5],
    fit: 1,
  },
};
