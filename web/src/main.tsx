import { render } from "preact";
import "./tokens.css";
import { startSession } from "./api/session";
import { App } from "./app";
import { watchWidth } from "./lib/narrow";
import { followHash } from "./lib/route";
import { startTheme } from "./lib/theme";

startTheme();
watchWidth();
followHash();
startSession();

const root = document.getElementById("app");
if (root) render(<App />, root);
