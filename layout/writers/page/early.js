// Before anything is drawn: what scripts show one at a time is not drawn all at once; if the page's script fails, all shows again.
document.documentElement.classList.add("js");
window.addEventListener("error", () => document.documentElement.classList.remove("js"), { once: true });
