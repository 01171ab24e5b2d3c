// One line a journey, the faults whole, and a last line that machines read.

/** @import { Reporter, TestCase, TestResult } from "@playwright/test/reporter" */

/** @implements {Reporter} */
export default class Plainly {
  passed = 0;
  failed = 0;
  skipped = 0;
  onSecondTry = 0;

  /** @param {TestCase} test @param {TestResult} result */
  onTestEnd(test, result) {
    const name = test.titlePath().slice(3).join(" › ");
    if (result.status === "skipped") this.skipped += 1;
    else if (result.status === test.expectedStatus) [this.passed, this.onSecondTry] = [this.passed + 1, this.onSecondTry + result.retry];
    else if (result.retry === test.retries) this.failed += 1;
    console.log(`${result.status.padEnd(8)} ${String(result.duration).padStart(6)} ms  ${name}`);
    for (const error of result.errors) console.log(error.stack ?? error.message ?? "");
  }

  /** @param {{message?: string, stack?: string}} error */
  onError(error) {
    this.failed += 1;
    console.log(error.stack ?? error.message ?? "");
  }

  onEnd() {
    if (this.onSecondTry > 0) console.log(`LOOK AT THIS: ${this.onSecondTry} passed only when tried again; why stands above`);
    console.log(`${this.passed} passed, ${this.failed} failed${this.skipped > 0 ? `, ${this.skipped} skipped` : ""}`);
  }
}
