import { begin } from "./standing.js";

begin(() => {});
