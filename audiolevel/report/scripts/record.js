// The commissioning record alone goes to the printer.

found("record-print")?.addEventListener("click", () => {
  document.body.classList.add("print-record");
  window.print();
});
window.addEventListener("afterprint", () => document.body.classList.remove("print-record"));
