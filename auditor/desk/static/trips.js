// The list of trips: the one-line answer of each as it is seen.

import "/static/work.js";
import { askAsSeen } from "/static/seen.js";

askAsSeen("[data-trip]", (trip) => `/trips/${trip.dataset.trip}/answer`, "[data-answer]");
