// What a person is told when something does not work: one sentence that says what to do.

export class Trouble extends Error {
  /**
   * @param {string} sentence
   * @param {{name?: string, pointer?: string|undefined, status?: number}} [more] the service's name for it, where it has one
   */
  constructor(sentence, more = {}) {
    super(sentence);
    this.name = "Trouble";
    this.problem = more.name ?? "";
    this.pointer = more.pointer;
    this.status = more.status ?? 0;
  }
}

/** The service was not reached: what was asked is kept, and asked again. */
export class Unreachable extends Trouble {
  constructor() {
    super("The service does not answer. What was noted is kept on this device.");
  }
}

/** Something that must hold does not: a receipt, a checkpoint, the log's key. Nothing more is sent. */
export class Broken extends Trouble {}
