// What was said: what taking each back changes, asked for as it is seen.

import { askAsSeen } from "/static/seen.js";

askAsSeen("[data-said]", (item) => `/said/${item.dataset.said}/changes`, "[data-changes]");
