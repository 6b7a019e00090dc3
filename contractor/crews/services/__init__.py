"""One verb each; every public function here is one transaction or says that it is not."""
