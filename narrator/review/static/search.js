// The address of a search tells only what was filled in.
document.getElementById("ask").addEventListener("formdata", (event) => {
  for (const [name, value] of [...event.formData.entries()]) if (!value) event.formData.delete(name);
});
