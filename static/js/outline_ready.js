// Before anything is drawn: pages that can be traced by hand show the board, not the fallback.
document.documentElement.classList.add("has-script");
