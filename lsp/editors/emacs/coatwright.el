;;; coatwright.el --- Trim recipes for dogs  -*- lexical-binding: t; -*-

;; Version: 0.1.0
;; Package-Requires: ((emacs "28.1"))
;; Keywords: languages

;;; Commentary:

;; A major mode for trim recipes (`*.trim'): colours, indentation, an entry for eglot.
;; Messages, completion and layout come from the language server, `coatwright-lsp'.

;;; Code:

(require 'rx)

(defgroup coatwright nil
  "Trim recipes for dogs."
  :group 'languages)

(defcustom coatwright-server '("coatwright-lsp")
  "The language server and its arguments."
  :type '(repeat string))

(defcustom coatwright-indent 2
  "How far the lines in braces are indented."
  :type 'natnum
  :safe #'natnump)

;; Words

(eval-and-compile
  (defconst coatwright--blocks
    '("recipe" "house" "zone" "group" "mark" "coat" "finding" "tool" "kit" "step" "form" "motion" "dog" "case"))
  (defconst coatwright--verbs
    '("set-in" "finish" "clip" "skim" "scissor" "shape" "thin" "hand-strip" "card" "rake" "taper" "leave"))
  (defconst coatwright--parts '("feet" "tail" "head" "ears"))
  (defconst coatwright--lines
    '("keep" "override" "blend" "line" "order" "first" "last" "when" "else" "guard" "lasts" "prep" "param" "let" "serves" "extends"
      "about" "wants" "given" "expect" "finding" "mats" "coat"))
  (defconst coatwright--small
    '("to" "with" "over" "by" "along" "at" "into" "except" "from" "off" "and" "or" "in" "is" "on" "before" "after"
      "between" "within" "without" "because" "but" "seen" "version" "reverse" "across" "against" "once" "twice"
      "throughout" "no" "never" "only" "untouched" "open" "refer" "gap" "closer" "shorter" "longer" "than" "most" "least"
      "up" "under" "left" "right"))
  (defconst coatwright--counts
    '("one" "two" "three" "four" "five" "six" "seven" "eight" "nine" "ten" "eleven" "twelve"))
  (defconst coatwright--units
    '("mm/week" "cm2/min" "mm" "cm" "m" "inches" "inch" "in" "fingers" "finger" "hands" "hand" "kg" "g" "lbs" "lb" "oz"
      "minutes" "minute" "min" "s" "hours" "hour" "h" "days" "day" "weeks" "week" "months" "month" "years" "year"
      "times" "%" "°c" "c" "celsius")))

;; A statement begins with its line, behind a brace, or behind `;'.
(defconst coatwright--start "\\(?:^\\|[{};]\\)[ \t]*"
  "What stands before the first word of a statement.")

(defconst coatwright-font-lock
  `(;; (common practice): where a number comes from.
    (,(rx "(" (* blank) (or "published" "common practice" "invented" "computed" "from memory")
          (* (or (not (any "()\n")) (seq "(" (* (not (any "()\n"))) ")"))) ")")
     0 font-lock-doc-face keep)
    ;; recipe NAME {
    (,(concat coatwright--start
              (rx symbol-start (group (eval `(or ,@coatwright--blocks))) symbol-end (+ blank)
                  (group (+? (not (any "{};,\n")))) (* blank) "{"))
     (1 font-lock-keyword-face) (2 font-lock-type-face))
    (,(concat coatwright--start
              (rx symbol-start (group (or (eval `(or ,@coatwright--verbs)) (seq "set" (+ blank) "in") (seq "hand" (+ blank) "strip")
                                          (eval `(or ,@coatwright--parts))))
                  symbol-end))
     1 font-lock-function-name-face)
    (,(concat coatwright--start (rx symbol-start (group (eval `(or ,@coatwright--lines))) symbol-end))
     1 font-lock-keyword-face)
    (,(rx "#" (* blank) (+ digit) (? "." (+ digit)) (* alpha)) . font-lock-constant-face)
    (,(rx symbol-start
          (or (seq (+ digit) (? (any ".,/") (+ digit)) (? (+ blank) (+ digit) "/" (+ digit)) (* blank) (? (any "½¼¾")))
              (any "½¼¾") (eval `(or ,@coatwright--counts)))
          (or (any "\"″") (seq (* blank) (eval `(or ,@coatwright--units)) symbol-end) symbol-end))
     . font-lock-constant-face)
    (,(rx symbol-start (eval `(or ,@coatwright--small)) symbol-end) . font-lock-builtin-face)
    ;; The name of a plain line.
    (,(concat "^[ \t]+" (rx (group alpha (* (any "-" alnum))) symbol-end)) 1 font-lock-variable-name-face))
  "Colours of trim recipes; comments, texts and prose come from the syntax.")

;; Syntax

(defconst coatwright-syntax
  (let ((table (make-syntax-table)))
    ;; A name's hyphens are part of it; two of them begin a comment.
    (modify-syntax-entry ?- "_ 12" table)
    (modify-syntax-entry ?\n ">" table)
    (modify-syntax-entry ?\" "\"" table)
    (modify-syntax-entry ?' "_" table)
    (modify-syntax-entry ?# "'" table)
    (modify-syntax-entry ?\\ "." table)
    (modify-syntax-entry ?% "_" table)
    table)
  "Syntax of trim recipes.")

(defun coatwright--prose-end (column)
  "The end of the prose under the line at point, or nil.
Prose is what is indented deeper than COLUMN."
  (save-excursion
    (let (end)
      (while (and (zerop (forward-line 1)) (not (eobp))
                  (or (looking-at-p "[ \t\r]*$") (> (current-indentation) column)))
        (unless (looking-at-p "[ \t\r]*$")
          (setq end (save-excursion (end-of-line) (skip-chars-backward " \t\r") (point)))))
      end)))

(defun coatwright--propertize (start end)
  "Mark what the syntax table can't know from START to END.
The prose of `about' is text; `\"' behind a number means inches, and without
a second one on its line it begins nothing."
  (goto-char start)
  (while (re-search-forward "^[ \t]*\\(about\\)[ \t]*\\(?:--.*\\)?\r?$\\|\"" end t)
    (if (match-beginning 1)
        (let ((last (coatwright--prose-end (current-indentation))))
          (when last
            (forward-line 1)
            (skip-chars-forward " \t\r\n")
            (put-text-property (line-beginning-position) last 'syntax-multiline t)
            (put-text-property (point) (1+ (point)) 'syntax-table (string-to-syntax "|"))
            (put-text-property (1- last) last 'syntax-table (string-to-syntax "|"))
            (goto-char last)))
      (let ((quote (1- (point))))
        (cond
         ((nth 4 (save-excursion (syntax-ppss quote))))
         ((and (memq (char-before quote) (append "0123456789½¼¾" nil)))
          (put-text-property quote (1+ quote) 'syntax-table (string-to-syntax ".")))
         ((search-forward "\"" (line-end-position) t))
         (t (put-text-property quote (1+ quote) 'syntax-table (string-to-syntax "."))))))))

(defun coatwright--extend (start end)
  "The region from START to END, begun at the `about' whose prose START is in."
  (save-excursion
    (goto-char start)
    (when (and (get-text-property (point) 'syntax-multiline)
               (re-search-backward "^[ \t]*about[ \t]*\\(?:--.*\\)?$" nil t))
      (cons (point) end))))

;; Indentation

(defun coatwright--in-prose-p ()
  "Whether the line at point is prose."
  (save-excursion
    (back-to-indentation)
    (or (nth 3 (syntax-ppss))
        (equal (get-text-property (point) 'syntax-table) (string-to-syntax "|")))))

(defun coatwright--goes-on-p ()
  "Whether the line at point continues the one before."
  (save-excursion
    (back-to-indentation)
    (or (looking-at-p (rx (or "to" "with" "over" "by" "along" "at" "into" "except" "from" "off") symbol-end))
        (progn
          (forward-comment (- (point)))
          (eq (char-before) ?,)))))

(defun coatwright-indent-line ()
  "Indent the line by the braces around it.
Prose stays as it is, and a line that continues another may stand deeper."
  (interactive)
  (unless (coatwright--in-prose-p)
    (let ((column (* coatwright-indent (car (save-excursion (syntax-ppss (line-beginning-position)))))))
      (save-excursion
        (back-to-indentation)
        ;; A tool's `over' and a card's `by' begin lines of their own, so none is pushed in that stands level.
        (cond
         ((eq (char-after) ?}) (indent-line-to (max 0 (- column coatwright-indent))))
         ((not (coatwright--goes-on-p)) (indent-line-to column))
         ((< (current-indentation) column) (indent-line-to (+ column coatwright-indent)))))
      (when (< (current-column) (current-indentation))
        (back-to-indentation)))))

;; The mode

(defun coatwright--project (folder)
  "The house that FOLDER belongs to: where its house.trim is."
  (let ((house (locate-dominating-file folder "house.trim")))
    (and house (cons 'transient house))))

;;;###autoload
(define-derived-mode coatwright-mode prog-mode "Trim"
  "Major mode for trim recipes."
  :syntax-table coatwright-syntax
  (setq-local comment-start "-- ")
  (setq-local comment-start-skip "--+[ \t]*")
  (setq-local syntax-propertize-function #'coatwright--propertize)
  (add-hook 'syntax-propertize-extend-region-functions #'coatwright--extend nil t)
  ;; Capital letters don't matter.
  (setq-local font-lock-defaults '(coatwright-font-lock nil t))
  (setq-local indent-line-function #'coatwright-indent-line)
  (setq-local indent-tabs-mode nil)
  (setq-local electric-indent-chars (cons ?} electric-indent-chars))
  (setq-local imenu-generic-expression
              `((nil ,(rx bol (eval `(or ,@coatwright--blocks)) (+ blank) (group (+? nonl)) (* blank) "{") 1)))
  (add-hook 'project-find-functions #'coatwright--project nil t))

;;;###autoload
(add-to-list 'auto-mode-alist '("\\.trim\\'" . coatwright-mode))

;; The server

(put 'coatwright-mode 'eglot-language-id "trim")

(defvar eglot-server-programs)
(with-eval-after-load 'eglot
  (add-to-list 'eglot-server-programs (cons 'coatwright-mode (lambda (&rest _) coatwright-server))))

(provide 'coatwright)
;;; coatwright.el ends here
