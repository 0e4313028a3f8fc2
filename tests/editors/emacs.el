;;; emacs.el --- The Emacs mode in a real Emacs  -*- lexical-binding: t; -*-

;; Run by run.sh: `emacs -Q --batch -l emacs.el'.  COATWRIGHT_TOKENS names what the real parser sees, COATWRIGHT_LSP the
;; server, EDITORS_FOLDER an empty folder.

;;; Code:

(defvar tests-folder (file-name-directory load-file-name))
(defvar tests-root (expand-file-name "../.." tests-folder))
(add-to-list 'load-path (expand-file-name "lsp/editors/emacs" tests-root))
;; Before Emacs 29 eglot is a package of its own.
(dolist (place (file-expand-wildcards "/usr/share/emacs/site-lisp/elpa-src/*"))
  (add-to-list 'load-path place))

(require 'json)
(require 'eglot)
(require 'flymake)
(require 'coatwright)

(defun tests-fail (words &rest values)
  "Say WORDS with VALUES, and leave."
  (message "emacs: %s" (apply #'format words values))
  (kill-emacs 1))

;; Colours

(defconst tests-faces
  '(("comment" font-lock-comment-face font-lock-comment-delimiter-face)
    ("note" font-lock-doc-face)
    ("string" font-lock-string-face)
    ("prose" font-lock-string-face)
    ("block" font-lock-keyword-face)
    ("verb" font-lock-function-name-face)
    ("part" font-lock-function-name-face)
    ("name" font-lock-type-face)
    ("blade" font-lock-constant-face font-lock-type-face)
    ("number" font-lock-constant-face))
  "The faces of each kind of token.")

(defun tests-colours ()
  "Hold the colours to the real parser's tokens; the count of those that were compared."
  (let ((seen 0) (wrong nil))
    (with-temp-buffer
      (insert-file-contents (getenv "COATWRIGHT_TOKENS"))
      (let ((lines (mapcar (lambda (line) (json-parse-string line :object-type 'alist))
                           (split-string (buffer-string) "\n" t)))
            (buffer nil))
        (dolist (token lines)
          (let-alist token
            (cond
             (.file
              (when buffer (kill-buffer buffer))
              (setq buffer nil)
              ;; The signs that a phone makes of quotes and hyphens, and slips, are left to the server's colours.
              (unless (or (string-suffix-p "thumbs.trim" .file) (string-prefix-p "tests/" .file) (file-name-absolute-p .file))
                (setq buffer (generate-new-buffer "corpus"))
                (with-current-buffer buffer
                  (insert-file-contents (expand-file-name .file tests-root))
                  (coatwright-mode)
                  (font-lock-ensure))))
             ((and buffer (assoc .kind tests-faces))
              (with-current-buffer buffer
                (dolist (byte (list .start (1- .end)))
                  (setq seen (1+ seen))
                  (let* ((at (byte-to-position (1+ byte)))
                         (face (get-text-property at 'face)))
                    (unless (or (memq face (cdr (assoc .kind tests-faces)))
                                ;; A block's name in quotes.
                                (and (equal .kind "name") (eq face 'font-lock-string-face)))
                      (push (list .kind (buffer-substring at (min (+ at 30) (point-max))) face) wrong))))))))))
      (when wrong
        (tests-fail "%d colours differ: %S" (length wrong) (seq-take (reverse wrong) 12))))
    seen))

;; Indentation

(defun tests-indentation ()
  "Indent a recipe anew: nothing moves."
  (dolist (file '("grammar/samples/recipe.trim" "recipes/saltmarsh/dogs.trim" "recipes/prelude/tools.trim" "recipes/prelude/body.trim"))
    (with-temp-buffer
      (insert-file-contents (expand-file-name file tests-root))
      (let ((before (buffer-string)))
        (coatwright-mode)
        (let ((inhibit-message t))
          (indent-region (point-min) (point-max)))
        (unless (equal before (buffer-string))
          (tests-fail "%s is indented otherwise" file))))))

;; The server

(defun tests-wait (what condition)
  "Wait until CONDITION holds; WHAT says for what."
  (let ((until (+ (float-time) 20)))
    (while (not (funcall condition))
      (when (> (float-time) until)
        (tests-fail "waited in vain: %s" what))
      (accept-process-output nil 0.05))))

(defun tests-server ()
  "Open a house with a slip in its recipe, wait for the message, mend it, wait until it is gone."
  (let* ((folder (file-name-as-directory (getenv "EDITORS_FOLDER")))
         (recipe (concat folder "recipes/t.trim"))
         (coatwright-server (list (getenv "COATWRIGHT_LSP")))
         (eglot-connect-timeout 20)
         (flymake-no-changes-timeout 0.1))
    (make-directory (file-name-directory recipe))
    (with-temp-file (concat folder "house.trim")
      (insert "house salt {\n  title \"Salt\"\n}\n"))
    (with-temp-file recipe
      (insert "recipe t {\n  clpi legs with #7F with the coat\n}\n"))
    (with-current-buffer (find-file-noselect recipe)
      (unless (derived-mode-p 'coatwright-mode)
        (tests-fail "%s opens in %s" recipe major-mode))
      (unless (equal (file-truename (cdr (project-current))) (file-truename folder))
        (tests-fail "the house is %S" (project-current)))
      (apply #'eglot--connect (eglot--guess-contact))
      (tests-wait "the server" #'eglot-current-server)
      (tests-wait "the message" (lambda () (flymake-start) (flymake-diagnostics)))
      (let ((said (car (flymake-diagnostics))))
        (unless (equal (buffer-substring (flymake-diagnostic-beg said) (flymake-diagnostic-end said)) "clpi")
          (tests-fail "the message stands at %S" said))
        (unless (string-match-p "clip" (flymake-diagnostic-text said))
          (tests-fail "the message says %S" (flymake-diagnostic-text said))))
      (goto-char (point-min))
      (search-forward "clpi")
      (replace-match "clip")
      (eglot--signal-textDocument/didChange)
      (tests-wait "that the message is gone" (lambda () (flymake-start) (null (flymake-diagnostics))))
      (set-buffer-modified-p nil)
      (eglot-shutdown (eglot-current-server)))))

(let ((seen (tests-colours)))
  (unless (> seen 3000)
    (tests-fail "only %d places were looked at" seen))
  (tests-indentation)
  (tests-server)
  (message "emacs: ok (%d colours)" seen))

;;; emacs.el ends here
