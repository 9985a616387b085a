import { svelte } from "@sveltejs/vite-plugin-svelte";
import { defineConfig } from "vitest/config";
import { VitePWA } from "vite-plugin-pwa";

export default defineConfig({
  base: "./",
  plugins: [
    svelte(),
    VitePWA({
      // A new version waits until somebody asks for it: nothing may reload under a half-entered load.
      registerType: "prompt",
      injectRegister: false,
      includeAssets: ["icon.svg"],
      workbox: {
        globPatterns: ["**/*.{html,js,css,wasm,svg,png,webmanifest}"],
        maximumFileSizeToCacheInBytes: 4_000_000,
        navigateFallback: "index.html",
        navigateFallbackDenylist: [/^\/api\//],
        clientsClaim: true,
        cleanupOutdatedCaches: true,
      },
      manifest: {
        name: "wetfront",
        short_name: "wetfront",
        description: "A pour at the edge of the slab: next decision, joint clocks, loads, record",
        start_url: "./",
        scope: "./",
        display: "standalone",
        background_color: "#ffffff",
        theme_color: "#14212b",
        icons: [
          { src: "icon-192.png", sizes: "192x192", type: "image/png" },
          { src: "icon-512.png", sizes: "512x512", type: "image/png", purpose: "any" },
          { src: "icon-512.png", sizes: "512x512", type: "image/png", purpose: "maskable" },
        ],
      },
    }),
  ],
  build: {
    outDir: "../src/wetfront/api/app_files",
    emptyOutDir: true,
    target: "es2022",
    // A data: address would need an exception in the content policy.
    assetsInlineLimit: 0,
  },
  test: { include: ["tests/*.test.ts"], environment: "node" },
});
