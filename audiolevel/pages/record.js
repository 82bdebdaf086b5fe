// The commissioning record alone goes to the printer.

found("record-print")?.addEventListener("click", () => {
  document.body.classList.add("only-record");
  window.print();
});
window.addEventListener("afterprint", () => document.body.classList.remove("only-record"));
