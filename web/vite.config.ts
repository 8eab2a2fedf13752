// One script, no chunks: the live page, and the moving cell of reports that open from disk.
import { defineConfig } from "vite";

export default defineConfig({
  publicDir: false,
  build: {
    outDir: "dist",
    target: "es2022",
    lib: { entry: "src/main.ts", name: "handfast", formats: ["iife"], fileName: () => "page.js", cssFileName: "page" },
  },
});
