// Journeys through the pages in Debian's chromium, against a real service on loopback.

import { defineConfig } from "@playwright/test";

export default defineConfig({
  testDir: "journeys",
  outputDir: `${process.env.CARGO_TARGET_DIR ?? "../../target"}/pages`,
  testMatch: "*.spec.mjs",
  timeout: 60_000,
  expect: { timeout: 10_000 },
  // Each journey has a house of its own; two cores carry two.
  workers: 2,
  fullyParallel: false,
  forbidOnly: true,
  // A machine that others use may starve a browser; what passes only then is said at the end.
  retries: 1,
  reporter: [["./support/reporter.mjs"]],
  use: {
    viewport: { width: 800, height: 1280 },
    trace: "off",
    launchOptions: {
      executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
      args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
    },
  },
});
