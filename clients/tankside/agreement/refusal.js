// Why something is not taken: a name out of F7's list, a place in the body, a sentence.

export class Refusal extends Error {
  /**
   * @param {string} problem such as `body-malformed`
   * @param {string} detail a sentence for a person
   * @param {string} [pointer] JSON pointer of the member at fault
   */
  constructor(problem, detail, pointer = "") {
    super(detail);
    this.name = "Refusal";
    this.problem = problem;
    this.pointer = pointer;
  }
}

/** @param {string} pointer @param {string} detail */
export const bodyRefusal = (pointer, detail) => new Refusal("body-malformed", detail, pointer);
