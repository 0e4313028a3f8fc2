// What both page tests begin with: the browser, and axe-core's own script.
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { chromium } from "playwright-core";

export const axeSource = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

// Debian's Chromium now and then falls over as it starts in a container: three tries.
export const launch = async (executablePath, tries = 3) => {
  try {
    return await chromium.launch({ executablePath, args: ["--no-sandbox", "--disable-gpu"] });
  } catch (error) {
    if (tries <= 1) throw error;
    return launch(executablePath, tries - 1);
  }
};
