// What Safari 15.4, the oldest that the pages are made for, does not have yet (README names all of them).

// By a click, so that the fields are checked and whoever listens to the form hears of it.
HTMLFormElement.prototype.requestSubmit ??= function requestSubmit(submitter) {
  if (submitter) { submitter.click(); return; }
  const button = Object.assign(document.createElement("button"), { hidden: true });
  this.append(button);
  button.click();
  button.remove();
};
