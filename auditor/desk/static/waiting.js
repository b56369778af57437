// The report is being worked out: it is shown as soon as it is there.

const told = document.getElementById("told");
const answer = await fetch(told.dataset.written).catch(() => null);
if (answer?.ok) location.reload();
else told.textContent = "The report could not be worked out. Load the page again; auditor check says whether the logbook is sound.";
