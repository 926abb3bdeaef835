// On every page of nobody: what whoever signed out here left behind goes.
import { wipeLeft } from "./store/left.js";

if ("indexedDB" in globalThis) wipeLeft().catch(() => {});
