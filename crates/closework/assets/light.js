// Sets the chosen light before the first paint; it is not a module for that reason.
(() => {
  const chosen = /(?:^|; )light=(paper|dim|red)/.exec(document.cookie);
  if (chosen) document.documentElement.dataset.light = chosen[1];
})();
